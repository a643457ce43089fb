// Answers a tyre's size while it is typed, and every size of the list while the vehicle's
// loads and speed are, by the list that the server sent with the page. Without it the
// server answers once the form is sent.
import { asTyped } from "./part/tyre.js";

const words = { within: "within", over: "over", not_judged: "not judged", marked: "" };

const list = () => JSON.parse(document.getElementById("tyre-list").textContent);

// vehicle reads what is typed of the vehicle, in the units of the request.
function vehicle() {
  const asked = {};
  for (const field of document.querySelectorAll("[data-asks]")) {
    if (field.type === "checkbox") {
      asked[field.dataset.asks] = field.checked;
      continue;
    }
    let text = field.value.trim();
    if (field.dataset.symbol && text.endsWith(field.dataset.symbol)) text = text.slice(0, -field.dataset.symbol.length).trim();
    const value = Number(text.replace(",", "."));
    if (text !== "" && Number.isFinite(value) && value > 0) asked[field.dataset.asks] = value * Number(field.dataset.factor);
  }
  return asked;
}

// short leaves what is marked, over and not judged; where nothing is either it says so.
function short(findings) {
  const out = findings.filter((f) => f.standing !== "within");
  if (findings.slice(3).every((f) => f.standing === "within")) out.push({ standing: "within", text: "Both axles’ loads and the top speed." });
  return out;
}

function show(place, said, all) {
  const lines = said.wrong ? [{ standing: "", text: said.wrong[0].toUpperCase() + said.wrong.slice(1) + ": " + said.hint + "." }] : all ? said.findings : short(said.findings);
  place.replaceChildren(...lines.map((f) => {
    const line = document.createElement("li");
    if (f.standing) line.dataset.standing = f.standing;
    if (words[f.standing]) {
      const word = document.createElement("b");
      word.textContent = words[f.standing];
      line.append(word, " ");
    }
    line.append(f.text);
    return line;
  }));
}

function answer(target) {
  const tables = list();
  const asked = vehicle();
  for (const field of document.querySelectorAll("[data-typed]")) {
    if (target.matches("[data-asks]") || target === field) {
      const place = document.getElementById(field.dataset.typed);
      if (field.value.trim() === "") place.replaceChildren();
      else show(place, asTyped(field.value, asked, tables), true);
    }
  }
  if (!target.matches("[data-asks]")) return;
  for (const place of document.querySelectorAll("[data-size]")) if (place.dataset.size) show(place, asTyped(place.dataset.size, asked, tables), false);
}

// A pause, so that who listens to the page is not told of every letter.
let waits;
document.addEventListener("input", (event) => {
  if (!event.target.matches("[data-typed], [data-asks]")) return;
  clearTimeout(waits);
  waits = setTimeout(() => answer(event.target), 250);
});
