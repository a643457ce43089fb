// Brings a page up to date when an entry was made elsewhere. Without it the
// page says the same after it is loaded again.
const body = document.body;
const source = new EventSource(body.dataset.live);
source.onmessage = async (event) => {
  if (event.data === body.dataset.head) return;
  const typing = document.activeElement && document.activeElement.closest("form") && document.activeElement.value;
  if (typing) {
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
