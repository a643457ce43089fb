// Brings a page up to date when an entry was made elsewhere. Without it the
// page says the same after it is loaded again.
const body = document.body;
const source = new EventSource(body.dataset.live);
source.onmessage = async (event) => {
  if (event.data === body.dataset.head) return;
  const typing = document.activeElement && document.activeElement.closest("form") && document.activeElement.value;
  if (typing || filled()) {
    tell();
    return;
  }
  const answer = await fetch(location.href, { headers: { Accept: "text/html" } });
  if (!answer.ok || answer.status === 202) {
    tell();
    return;
  }
  const fresh = new DOMParser().parseFromString(await answer.text(), "text/html");
  const y = scrollY;
  for (const id of ["head", "main"]) document.getElementById(id).replaceWith(document.adoptNode(fresh.getElementById(id)));
  document.title = fresh.title;
  body.dataset.head = fresh.body.dataset.head;
  scrollTo(0, y);
};
addEventListener("pagehide", () => source.close());

// filled tells whether a form that enters something was filled in and not sent yet, wherever
// the reader is on the page now: it must not be taken away.
function filled() {
  if (document.querySelector("#main form[data-unsent]")) return true; // shown again as it was typed
  for (const field of document.querySelectorAll("#main form[method=post] :is(input, textarea, select)")) {
    if (field.type === "hidden") continue;
    if (field.type === "checkbox" || field.type === "radio") {
      if (field.checked !== field.defaultChecked) return true;
    } else if (field.tagName === "SELECT") {
      if (field.selectedIndex !== Math.max(0, [...field.options].findIndex((o) => o.defaultSelected))) return true;
    } else if (field.value !== field.defaultValue) return true;
  }
  return false;
}

// tell says that there is news without taking away what is being typed.
function tell() {
  if (document.getElementById("news")) return;
  const p = document.createElement("p");
  p.id = "news";
  p.className = "news";
  p.setAttribute("role", "status");
  const a = document.createElement("a");
  a.href = location.href;
  a.textContent = "Something was entered elsewhere: load this page again";
  p.append(a);
  document.getElementById("main").prepend(p);
}
