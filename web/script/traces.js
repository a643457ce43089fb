// Traces: channels of a recording below each other with the cuts of its runs as posts. The
// chosen run's posts can be dragged or moved by keys; another run is chosen by its posts,
// by what lies between them or from the list. Without it the form takes the times.
import { strips } from "./part/strips.js";

const root = document.getElementById("traces");
if (root) begin(root);

async function begin(root) {
  const holder = root.querySelector(".window");
  const form = document.getElementById("recut");
  const comma = root.dataset.comma === "yes";
  const says = root.querySelector("output"), told = document.getElementById("moved-by");
  const text = (v, digits) => (comma ? v.toFixed(digits).replace(".", ",") : v.toFixed(digits));
  const read = (v) => +v.replace(",", ".");
  // Every cut as it stands and as it is drawn; what was moved and not kept stays here.
  const cuts = form ? [...form.elements.piece.options].map((o) => ({ piece: o.value, name: o.textContent, was: [+o.dataset.begin, +o.dataset.end], now: [+o.dataset.begin, +o.dataset.end] })) : [];
  const chosen = () => cuts.find((c) => c.piece === form.elements.piece.value);
  const posts = [...root.querySelectorAll("[role=slider]")];
  const near = 12; // px within which a post is taken
  let pulled = null;

  const drawn = strips(holder, {
    comma,
    head: 24,
    axis: () => ({ name: "time, s from the first sample", by: 1, clock: true }),
    edges: () => ({ left: 54, right: 14 }),
    async from(a, b, columns) {
      const answer = await fetch(`${root.dataset.from}?columns=${columns}` + (a === undefined ? "" : `&from=${a}&to=${b}`), { headers: { Accept: "application/json" } });
      if (!answer.ok) throw new Error(`${answer.status}`);
      return answer.json();
    },
    behind(g, c, foot, full) {
      for (const cut of cuts) {
        const [a, b] = cut.now.map(drawn.x);
        const [from, to] = [Math.max(a, 54), Math.min(b, full - 14)];
        if (to <= from) continue;
        g.fillStyle = c.of("inset");
        g.fillRect(from, 0, to - from, foot);
      }
    },
    before(g, c, foot, full) {
      const own = form && chosen();
      for (const cut of cuts) {
        const mine = cut === own;
        g.strokeStyle = g.fillStyle = mine ? c.ink : c.soft;
        g.lineWidth = mine ? 2 : 1;
        cut.now.forEach((v, end) => {
          const u = drawn.x(v);
          if (u < 54 || u > full - 14 || mine) return;
          g.setLineDash(v === cut.was[end] ? [] : [4, 3]);
          g.beginPath();
          g.moveTo(u, 0);
          g.lineTo(u, foot);
          g.stroke();
          g.setLineDash([]);
          g.fillRect(end ? u : u - 6, 0, 6, 16);
        });
        const [a, b] = cut.now.map(drawn.x);
        const from = Math.max(a, 54), to = Math.min(b, full - 14);
        g.font = `${mine ? 600 : 400} 13px ${c.sans}`;
        g.textAlign = "center";
        g.fillStyle = c.ink;
        const label = cut.name.replace(/^run /, "");
        if (to - from > g.measureText(label).width + (mine ? 16 : 4)) g.fillText(label, (from + to) / 2, 16);
      }
    },
    pointer(e, px) {
      if (!form) return false;
      let best = null;
      for (const cut of cuts) cut.now.forEach((v, end) => {
        const far = Math.abs(drawn.x(v) - px);
        if (far <= near && (!best || far < best.far)) best = { cut, end, far };
      });
      if (!best) return false;
      choose(best.cut);
      pulled = { id: e.pointerId, end: best.end };
      holder.setPointerCapture(e.pointerId);
      return true;
    },
    click(at) {
      const cut = cuts.find((k) => at >= k.now[0] && at <= k.now[1]);
      if (cut) choose(cut);
    },
  });
  root.hidden = false;
  try {
    await drawn.show();
  } catch {
    root.hidden = true; // the table says what there is
    return;
  }
  const [first, last] = drawn.whole();
  const place = () => {
    const [a, b] = drawn.view();
    says.textContent = `${text(a, 2)} s to ${text(b, 2)} s`;
    drawn.above();
    const cut = form && chosen();
    posts.forEach((post, end) => {
      const v = cut ? cut.now[end] : NaN;
      const hidden = !(v >= a && v <= b);
      if (hidden && post === document.activeElement) holder.focus();
      post.hidden = hidden;
      if (!cut) return;
      post.style.left = `${drawn.x(v)}px`;
      post.setAttribute("aria-label", `${end ? "End" : "Begin"} of ${cut.name}`);
      post.setAttribute("aria-valuemin", first.toFixed(2));
      post.setAttribute("aria-valuemax", last.toFixed(2));
      post.setAttribute("aria-valuenow", v.toFixed(2));
      post.setAttribute("aria-valuetext", `${text(v, 2)} s`);
    });
  };
  // see brings a moment into view, as near as it is.
  const see = (v) => {
    const [a, b] = drawn.view();
    if (v < a || v > b) drawn.see(v - (b - a) / 2, v + (b - a) / 2);
  };
  drawn.onshow = place;
  drawn.onhover = (v) => drawn.cursor(v);
  holder.addEventListener("pointerleave", () => drawn.cursor(null));
  for (const button of root.querySelectorAll("button[data-look]")) button.addEventListener("click", () => drawn.look[button.dataset.look]());
  if (!form) {
    place();
    return;
  }
  const [begins, ends] = [form.elements.begin, form.elements.end];
  const written = (v) => text(v, 3);
  function choose(cut) {
    form.elements.piece.value = cut.piece;
    [begins.value, ends.value] = cut.now.map(written);
    tell();
    place();
  }
  function tell() {
    const moved = cuts.filter((c) => c.now[0] !== c.was[0] || c.now[1] !== c.was[1]);
    const by = (c) => ["begin", "end"].filter((_, i) => c.now[i] !== c.was[i]).map((what) => {
      const d = what === "begin" ? c.now[0] - c.was[0] : c.now[1] - c.was[1];
      return `${what} by ${d < 0 ? "\u2212" : "+"}${text(Math.abs(d), 2)} s`;
    }).join(", ");
    told.textContent = moved.length ? `Moved and not kept yet: ${moved.map((c) => `${c.name} ${by(c)}`).join("; ")}.` : "";
  }
  form.elements.piece.addEventListener("change", () => {
    const cut = chosen();
    choose(cut);
    const width = cut.now[1] - cut.now[0];
    drawn.see(cut.now[0] - width / 4, cut.now[1] + width / 4);
  });
  for (const [end, field] of [begins, ends].entries()) field.addEventListener("input", () => {
    const v = read(field.value);
    if (!(v >= first && v <= last)) return; // the server says what is wrong with it
    chosen().now[end] = field.value.trim() === "" ? chosen().was[end] : v;
    tell();
    place();
  });
  const put = (end, v) => {
    const cut = chosen();
    v = Math.min(Math.max(v, first), last);
    v = Math.round((end ? Math.max(v, cut.now[0] + 0.01) : Math.min(v, cut.now[1] - 0.01)) * 100) / 100;
    cut.now[end] = v;
    [begins, ends][end].value = written(v);
    tell();
    see(v);
    place();
    drawn.cursor(v);
  };
  posts.forEach((post, end) => {
    post.addEventListener("focus", () => drawn.cursor(chosen().now[end]));
    post.addEventListener("keydown", (e) => {
      const step = { ArrowLeft: -0.1, ArrowDown: -0.1, ArrowRight: 0.1, ArrowUp: 0.1, PageDown: -1, PageUp: 1 }[e.key];
      if (!step) return;
      e.preventDefault();
      put(end, chosen().now[end] + step * (e.shiftKey ? 10 : 1));
    });
    post.addEventListener("pointerdown", (e) => {
      post.setPointerCapture(e.pointerId);
      post.onpointermove = (m) => put(end, drawn.at(m.clientX - holder.getBoundingClientRect().left));
    });
    for (const over of ["pointerup", "pointercancel"]) post.addEventListener(over, () => { post.onpointermove = null; });
  });
  holder.addEventListener("pointermove", (e) => {
    if (pulled?.id === e.pointerId) put(pulled.end, drawn.at(e.clientX - holder.getBoundingClientRect().left));
  });
  for (const over of ["pointerup", "pointercancel"]) holder.addEventListener(over, (e) => {
    if (pulled?.id !== e.pointerId) return;
    const end = pulled.end;
    pulled = null;
    posts[end].focus();
  });
  if (cuts.length) choose(cuts[0]);
  root.dataset.ready = "yes";
}
