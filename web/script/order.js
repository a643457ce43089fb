// The order: a stint is dragged elsewhere, in the drawing or by its handle in the table,
// or moved by keys, and its price stands there at once. Without it the links beside each
// stint move it by a place. What an order costs is asked of the server, which scores it
// beside the one that was found.
let chosen = document.getElementById("chosen");
if (chosen) begin();

function begin() {
  const known = new Map(); // pages by address, so that a place passed twice is asked once
  let asking = 0;

  const codes = () => chosen.dataset.sequence.split(" ");
  const addressOf = (list) => {
    const to = new URL(chosen.dataset.drawn, location.href);
    to.searchParams.set("own", list.join(" "));
    return to.pathname + to.search;
  };
  const ask = (at) => {
    if (!known.has(at)) {
      known.set(at, fetch(at).then(async (answer) => new DOMParser().parseFromString(await answer.text(), "text/html")));
      known.get(at).catch(() => known.delete(at));
    }
    return known.get(at);
  };
  // moved gives the sequence with the stint at one place brought to another.
  const moved = (from, to) => {
    const list = codes();
    const [code] = list.splice(from, 1);
    list.splice(to, 0, code);
    return list;
  };
  const priceOf = (page) => (page.getElementById("price") ?? page.querySelector("h1")).textContent.trim();

  // show puts an order on the page as the server gave it.
  async function show(at, push) {
    const mine = ++asking;
    let page;
    try {
      page = await ask(at);
    } catch {
      document.getElementById("price").textContent = "The laptop does not answer; the order stays as it is.";
      return false;
    }
    if (mine !== asking) return false;
    const next = page.getElementById("chosen");
    if (!next) { // it cannot be: the page says why
      location.href = at;
      return false;
    }
    const price = priceOf(page);
    document.querySelector(".open").replaceChildren(...page.querySelector(".open").childNodes);
    const rest = [...page.querySelectorAll("#chosen ~ section, #chosen ~ .scroll:not(:has(#taken)), #chosen ~ table")];
    for (const part of document.querySelectorAll("#chosen ~ section, #chosen ~ .scroll:not(:has(#taken)), #chosen ~ table")) part.remove();
    // The price is said to who hears the page: its own element stays, its words change.
    const says = document.getElementById("price");
    next.querySelector("#price").replaceWith(says);
    chosen.replaceWith(next);
    next.after(...rest);
    says.textContent = price;
    chosen = next;
    document.title = page.title;
    if (push) history.pushState(null, "", at);
    dress();
    return true;
  }

  // move brings a stint by so many places, past the limits of days.
  async function move(from, by) {
    const to = from + by;
    if (to < 0 || to >= codes().length) return;
    if (await show(addressOf(moved(from, to)), true)) row(to)?.querySelector(".grip")?.focus();
  }
  const row = (at) => chosen.querySelector(`tr[data-at="${at}"]`);

  // dress gives each stint its handle, and each box of the drawing.
  function dress() {
    for (const tr of chosen.querySelectorAll("tr[data-at]")) {
      const grip = document.createElement("button");
      grip.type = "button";
      grip.className = "grip";
      const code = tr.querySelector("th").textContent.trim();
      grip.setAttribute("aria-label", `Move ${code}, stint ${[...chosen.querySelectorAll("tr[data-at]")].indexOf(tr) + 1}: drag it, or arrow up and down`);
      grip.textContent = "↕";
      tr.querySelector("td.tools").prepend(grip);
      grip.addEventListener("keydown", (e) => {
        const by = { ArrowUp: -1, ArrowDown: 1 }[e.key];
        if (!by) return;
        e.preventDefault();
        move(+tr.dataset.at, by);
      });
      grip.addEventListener("pointerdown", (e) => drag(e, tr, [...chosen.querySelectorAll("tr[data-at]")], "y"));
    }
    const boxes = [...chosen.querySelectorAll("svg [data-at]")];
    for (const box of boxes) box.addEventListener("pointerdown", (e) => drag(e, box, boxes, "x"));
    for (const a of chosen.querySelectorAll("a[data-by]")) {
      a.addEventListener("click", async (e) => {
        if (e.ctrlKey || e.metaKey || e.shiftKey || e.button) return;
        e.preventDefault();
        const to = +a.closest("tr").dataset.at + +a.dataset.by;
        if (!(await show(a.getAttribute("href").replace(/#.*/, ""), true))) return;
        const links = row(to);
        (links?.querySelector(`a[data-by="${a.dataset.by}"]`) ?? links?.querySelector("a[data-by]"))?.focus();
      });
    }
  }

  // drag follows the pointer: where the stint would stand is marked, and what it would
  // cost there is said beside the pointer.
  function drag(e, item, items, along) {
    if (e.button) return;
    e.preventDefault();
    const from = +item.dataset.at;
    let to = from, at = "";
    const tag = document.createElement("output");
    tag.className = "dragging";
    document.body.append(tag);
    item.setPointerCapture?.(e.pointerId);
    item.classList.add("held");
    const mark = (on) => {
      for (const x of items) x.classList.remove("before", "behind");
      const other = items.find((x) => +x.dataset.at === on);
      if (other && on !== from) other.classList.add(on < from ? "before" : "behind");
    };
    const over = (p) => {
      let best, far = Infinity;
      for (const x of items) {
        const r = x.getBoundingClientRect();
        const dx = Math.max(r.left - p.clientX, 0, p.clientX - r.right), dy = Math.max(r.top - p.clientY, 0, p.clientY - r.bottom);
        const d = along === "y" ? dy : dx + 4 * dy; // rows of the drawing are days
        if (d < far) [best, far] = [x, d];
      }
      return +best.dataset.at;
    };
    const follow = async (p) => {
      tag.style.left = `${Math.min(p.clientX + 16, innerWidth - tag.offsetWidth - 8)}px`;
      tag.style.top = `${Math.max(8, p.clientY - tag.offsetHeight - 16)}px`;
      const now = over(p);
      if (now === to) return;
      to = now;
      mark(to);
      at = to === from ? "" : addressOf(moved(from, to));
      if (!at) {
        tag.textContent = "where it was";
        return;
      }
      tag.textContent = "asking what it costs …";
      const mine = at;
      try {
        const page = await ask(mine);
        if (mine === at) tag.textContent = priceOf(page);
      } catch {
        if (mine === at) tag.textContent = "The laptop does not answer.";
      }
    };
    const end = (drop) => {
      item.removeEventListener("pointermove", follow);
      removeEventListener("keydown", leave);
      tag.remove();
      mark(from);
      item.classList.remove("held");
      if (drop && to !== from) show(at, true);
    };
    const leave = (k) => { if (k.key === "Escape") { to = from; end(false); } };
    tag.textContent = "drag it to where it is to stand";
    follow(e);
    item.addEventListener("pointermove", follow);
    item.addEventListener("pointerup", () => end(true), { once: true });
    item.addEventListener("pointercancel", () => end(false), { once: true });
    addEventListener("keydown", leave);
  }

  // What was entered elsewhere brings the page anew: its order is dressed again.
  new MutationObserver(() => {
    const now = document.getElementById("chosen");
    if (!now || now === chosen) return;
    chosen = now;
    known.clear();
    dress();
  }).observe(document.querySelector(".sheet"), { childList: true });

  addEventListener("popstate", () => { if (location.search) show(location.pathname + location.search, false); else location.reload(); });
  dress();
}
