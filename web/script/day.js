// The page at the track. It keeps what is entered on this device first and sends
// it when the laptop is there; limits on typed values are answered at once.
import { answers } from "./part/limits.js";
import { attach, list, put, send } from "./part/outbox.js";
import { fits, scaleOf } from "./part/scale.js";

const day = JSON.parse(document.getElementById("day").textContent);
const $ = (id) => document.getElementById(id);
const clock = (ms) => new Date(ms).toLocaleTimeString("en-GB", { hour: "2-digit", minute: "2-digit" });

// bodyOf gives the body of an entry from its form, quantities in the unit that
// is kept. Numbers are rounded to twelve digits, which undoes what the change of
// unit adds behind the ones that were typed.
function bodyOf(form) {
  const body = {};
  for (const field of form.elements) {
    if (!field.name) continue;
    const typed = field.value.trim();
    if (field.type === "checkbox") {
      if (field.checked) body[field.name] = true;
      continue;
    }
    if (typed === "" || typed === "-") continue;
    const kept = (text) => Number((number(text) * Number(field.dataset.factor)).toPrecision(12));
    if (field.dataset.type === "number") body[field.name] = kept(typed);
    else if (field.dataset.type === "numbers") body[field.name] = typed.split(/[ ;]+/).map(kept);
    else body[field.name] = typed;
  }
  return body;
}

// number reads what a person types: a comma or a point, a hyphen or a minus.
function number(text) {
  return Number(text.replace(",", ".").replace("\u2212", "-"));
}

// wrong says which field of a form holds no number, or no rating, and why.
function wrong(form) {
  for (const field of form.elements) {
    if (!field.dataset?.factor || field.value.trim() === "") continue;
    const texts = field.dataset.type === "numbers" ? field.value.trim().split(/[ ;]+/) : [field.value.trim()];
    if (texts.some((t) => Number.isNaN(number(t)))) return { field, says: `${field.value} is no number` };
  }
  const { attribute, value } = form.elements;
  if (form.dataset.kind !== "rating" || value.value.trim() === "") return;
  const scale = scaleOf(day.scales, attribute.value);
  if (!fits(scale, number(value.value.trim()))) return { field: value, says: `${value.value} is no rating of ${attribute.value.trim() || "anything"}: it goes from ${scale.words}, in steps of ${scale.step}` };
}

// scaled shows the scale of the attribute beside its rating, with a keyboard that has
// a minus where one is needed.
function scaled(form) {
  const { attribute, value } = form.elements;
  const scale = scaleOf(day.scales, attribute.value);
  const end = (v) => (v < 0 ? `\u2212${-v}` : scale.low < 0 ? `+${v}` : String(v));
  value.inputMode = scale.low < 0 ? "text" : "decimal";
  value.nextElementSibling.textContent = `${end(scale.low)} to ${end(scale.high)}`;
}

// typed answers what is being typed by the shared limits, in the field's own unit.
function typed(form) {
  const out = form.querySelector(".answers");
  const body = bodyOf(form);
  const values = {};
  for (const [key, value] of Object.entries(body)) if (typeof value === "number") values[key] = value;
  const hottest = ["front_left", "front_right", "rear_left", "rear_right"].map((c) => values[c + "_degc"]).filter((v) => v !== undefined);
  if (form.dataset.kind === "brake_temperature" && hottest.length) values.brake_temperature_degc = Math.max(...hottest);
  const said = answers(day.limits.limits ?? [], values);
  const broken = said.filter((a) => a.standing === "broken");
  out.className = "answers" + (broken.length ? " no" : "");
  out.textContent = broken.length
    ? broken.map((a) => `${plain(a.field)} is over its limit (${bounds(a.limit)}): ${a.limit.stands}`).join("; ")
    : said.length ? "within the limits" : "";
  for (const field of form.elements) {
    if (!field.dataset?.factor) continue;
    if (broken.some((a) => a.field === field.name)) field.setAttribute("aria-invalid", "true");
    else field.removeAttribute("aria-invalid");
  }
  band(broken);
  if (form.dataset.kind !== "rating") return;
  scaled(form);
  const bad = wrong(form);
  if (bad) [out.className, out.textContent] = ["answers no", bad.says];
}

const plain = (field) => field.replace(/_(mps|degc|m|percent|kpa|deg|c)$/, "").replaceAll("_", " ");

function bounds(limit) {
  const unit = limit.unit ? " " + limit.unit : "";
  if (limit.low === undefined) return `at most ${limit.high}${unit}`;
  if (limit.high === undefined) return `at least ${limit.low}${unit}`;
  return `${limit.low} to ${limit.high}${unit}`;
}

// band shows a broken limit where nobody overlooks it. Entering all the same is
// possible, and says so.
function band(broken) {
  const at = $("band");
  at.hidden = broken.length === 0;
  if (!broken.length) return;
  const no = document.createElement("b");
  no.className = "big";
  no.textContent = "no";
  const says = document.createElement("div");
  const head = document.createElement("h2");
  head.textContent = `Do not drive: ${broken.map((a) => `${plain(a.field)} is ${Number(a.value.toPrecision(4))} ${a.limit.unit}, the limit is ${bounds(a.limit)}`).join("; ")}`;
  const then = document.createElement("p");
  then.textContent = broken.map((a) => a.limit.stands).join("; ");
  says.append(head, then);
  at.replaceChildren(no, says);
}

let lastSent = "";
let away = "";

// tell says what is still unsent, always in sight.
async function tell(how) {
  const kept = await list(day.programme);
  const at = $("outbox");
  at.hidden = false;
  const refused = kept.filter((e) => e.trouble).length;
  if (how === "no network" && !away) away = clock(Date.now());
  if (how !== "no network") away = "";
  at.classList.toggle("unsent", kept.length > 0);
  let text = kept.length === 0 ? `All entries sent${lastSent ? ", " + lastSent : ""}` : `${kept.length} ${kept.length === 1 ? "entry" : "entries"} kept here`;
  if (how === "no network") text = `No network since ${away}. ${text}`;
  if (how === "not signed in") text = `Not signed in. ${text}`;
  if (how === "trouble") text = `The laptop is in trouble. ${text}`;
  if (refused) text += `, ${refused} refused`;
  if (!globalThis.isSecureContext) text += ". This page is not secure: it cannot be opened again without the network";
  at.textContent = text;
  $("export").hidden = kept.length === 0;
  here(kept);
}

// here lists what is kept here above what was sent.
function here(kept) {
  for (const row of document.querySelectorAll("tr.kept")) row.remove();
  const replaced = new Set(kept.map((entry) => JSON.parse(entry.text).supersedes).filter(Boolean));
  for (const row of document.querySelectorAll("[data-id]")) if (replaced.has(row.dataset.id)) gone(row);
  const cell = (name, text) => {
    const c = document.createElement(name);
    c.textContent = text;
    if (name === "th") c.scope = "row";
    return c;
  };
  for (const entry of kept) {
    const where = cell("td", "");
    const ways = document.createElement("div");
    ways.className = "where";
    const mark = document.createElement("span");
    mark.className = "keptmark";
    mark.textContent = entry.trouble ? "refused: " + entry.trouble : "kept here";
    ways.append(mark);
    where.append(ways);
    const row = document.createElement("tr");
    row.className = "kept";
    const says = Object.entries(entry.body).filter(([k]) => k !== "test").map(([k, v]) => `${plain(k)} ${amount(entry.kind, k, v)}`).join(", ");
    const title = day.words[entry.kind] ?? entry.kind;
    row.append(cell("td", clock(entry.ms)), cell("th", title), cell("td", says), cell("td", day.author), where);
    $("lately").prepend(row);
    Object.assign(row.dataset, { id: entry.id, title, kind: entry.kind, body: JSON.stringify(entry.body) });
    if (replaced.has(entry.id)) gone(row);
    else if (!entry.trouble && day.words[entry.kind]) ways.append(doing("correct", "Correct", title), doing("back", "Take back", title));
    if (entry.kind === "run" && !replaced.has(entry.id) && entry.body.stint === day.stint && entry.body.test === day.test && $("runs")) {
      const run = document.createElement("tr");
      run.className = "kept";
      const speed = entry.body.entry_speed_mps === undefined ? "" : (entry.body.entry_speed_mps * 3.6).toFixed(1);
      const number = cell("td", speed);
      number.className = "num";
      run.append(cell("th", entry.body.run), cell("td", clock(entry.ms)), number, cell("td", entry.body.remark ?? ""), cell("td", ""));
      run.lastChild.append(mark.cloneNode(true));
      $("runs").prepend(run);
    }
  }
}

// amount writes what a field of a kind holds in the unit that people type it in.
function amount(kind, key, value) {
  const field = document.querySelector(`form.entry[data-kind="${kind}"] [name="${key}"][data-factor]`);
  if (!field || typeof value === "string") return value === true ? "yes" : value;
  const one = (v) => Number((v / Number(field.dataset.factor)).toPrecision(5));
  const unit = kind === "rating" ? "" : field.nextElementSibling.textContent;
  return `${[value].flat().map(one).join(" ")} ${unit}`.trim();
}

// doing makes a button of a row that is kept here; what it does is below.
function doing(name, text, title) {
  const button = document.createElement("button");
  button.type = "button";
  button.className = "do " + name;
  const of = document.createElement("span");
  of.className = "vh";
  of.textContent = ` the ${title}`;
  button.append(text, of);
  return button;
}

// gone strikes through what something that is kept here takes the place of.
function gone(row) {
  row.classList.add("gone");
  for (const way of row.querySelectorAll(".correct, .back")) way.hidden = true;
}

// afresh shows what the laptop has, once everything was sent to it: what was entered,
// on this device and others, what it holds and what does not fit together.
async function afresh() {
  let fresh;
  try {
    const answer = await fetch(location.pathname + `?test=${encodeURIComponent(day.test)}`, { headers: { Accept: "text/html" } });
    if (!answer.ok || answer.status === 202) return;
    fresh = new DOMParser().parseFromString(await answer.text(), "text/html");
  } catch {
    return; // it is told by the next thing that is sent
  }
  for (const id of ["stints", "runs", "lately", "clashes"]) {
    const now = $(id), then = fresh.getElementById(id);
    if (now && then) now.replaceWith(document.adoptNode(then));
  }
  const head = fresh.querySelector("h1");
  if (head) document.querySelector("h1").replaceWith(document.adoptNode(head));
  here(await list(day.programme));
}

// follow puts the forms where an entry that was just made leaves the day: the next
// run, or the stint that now is on the vehicle.
function follow(kind, body) {
  if (kind === "run" && body.stint === day.stint && Number(body.run) >= day.next) day.next = Number(body.run) + 1;
  if (kind === "stint") {
    day.stint = body.stint;
    day.next = 1;
    day.coming = day.coming?.[0] === body.code ? day.coming.slice(1) : []; // another code than the order has: it says no more
  }
  for (const field of document.querySelectorAll("form.entry:not(#correct form) [name=run]")) if (field.form.dataset.kind !== "incident") field.value = day.next;
  for (const field of document.querySelectorAll("form.entry:not(#correct form) [name=stint]")) {
    if (field.form.dataset.kind === "stint") {
      field.value = Number.isNaN(Number(day.stint)) ? "" : Number(day.stint) + 1;
      if (kind === "stint") field.form.elements.code.value = day.coming[0] ?? "";
    } else field.value = day.stint;
  }
}

let sending;
let stale = false; // something was sent since the page was shown

// offer sends what is kept here, one time after another, never twice at once.
function offer() {
  sending ??= send(day.programme, (entry, receipt) => {
    if (receipt.kept) [lastSent, stale] = [clock(Date.now()), true];
    for (const a of receipt.answers ?? []) if (a.standing === "broken") band([a]);
  }).catch(() => "trouble").then(async (how) => {
    sending = undefined;
    await tell(how);
    if (stale && (how === "sent" || how === "refused")) {
      stale = false;
      await afresh();
    }
    return how;
  });
  return sending;
}

// keep puts an entry where it is safe, then offers it; false where this device keeps
// nothing.
async function keep(out, kind, version, body, supersedes) {
  try {
    await put(day.programme, day.author, kind, version, body, supersedes);
  } catch (e) {
    out.className = "answers no";
    out.textContent = `This device keeps nothing (${e?.message ?? e}): write it down on paper`;
    return false;
  }
  return true;
}

// wire lets a form answer what is typed, and keep it.
function wire(form) {
  if (form.dataset.kind === "rating") scaled(form);
  form.addEventListener("input", () => typed(form));
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    const out = form.querySelector(".answers");
    const bad = wrong(form);
    if (bad) {
      bad.field.setAttribute("aria-invalid", "true");
      out.className = "answers no";
      out.textContent = bad.says;
      bad.field.focus();
      return;
    }
    const { kind, version, title, id } = form.dataset;
    const body = id ? amended(form) : bodyOf(form);
    if (!body) {
      out.className = "answers no";
      out.textContent = "nothing is changed";
      return;
    }
    if (!(await keep(out, kind, Number(version), body, id))) return;
    if (id) close();
    else {
      for (const field of form.elements) if (field.name && field.type !== "hidden" && !["run", "stint", "test", "rater", "person", "set"].includes(field.name)) field.type === "checkbox" ? (field.checked = false) : (field.value = "");
      typed(form);
      out.textContent = `${title} entered`;
      follow(kind, body);
    }
    await tell(away ? "no network" : "");
    await offer();
  });
}

for (const form of document.querySelectorAll("form.entry:not(#correct form)")) wire(form);

// correct opens the form of an entry's kind with what it says. The corrected entry
// stands in the place of the old one, which is kept; fields that nobody touched stay as
// they are, to the last digit.
function correct(row) {
  const { id, kind, body, title } = row.dataset;
  const of = document.querySelector(`form.entry[data-kind="${kind}"]:not(#correct form)`);
  if (!of || !body) return false;
  const was = JSON.parse(body);
  const form = of.cloneNode(true);
  Object.assign(form.dataset, { id, body });
  for (const field of [...form.querySelectorAll("input[type=hidden], [data-voice]")]) field.remove();
  for (const part of form.querySelectorAll("[id], [for], [list]")) for (const name of ["id", "for", "list"]) if (part.hasAttribute(name)) part.setAttribute(name, "correct-" + part.getAttribute(name));
  const shown = (v, field) => String(Number((v / Number(field.dataset.factor)).toPrecision(12)));
  for (const field of form.elements) {
    if (!field.name) continue;
    const v = was[field.name];
    field.removeAttribute("aria-invalid");
    if (field.type === "checkbox") field.checked = v === true;
    else if (v === undefined) field.value = "";
    else if (Array.isArray(v)) field.value = v.map((x) => shown(x, field)).join(" ");
    else field.value = typeof v === "number" ? shown(v, field) : v;
    field.dataset.was = field.type === "checkbox" ? String(field.checked) : field.value;
  }
  form.querySelector(".hint").textContent = "Change a field, or several. What stood before is kept, and no longer counts.";
  form.querySelector("button.first").textContent = "Enter the correction";
  form.querySelector(".answers").textContent = "";
  const leave = doing("leave", "Leave it as it is", title);
  leave.addEventListener("click", close);
  form.querySelector(".acts").append(leave);
  const at = $("correct");
  at.querySelector("h2").textContent = `Correct the ${title}${was.stint ? ` of stint ${was.stint}` : ""}${was.run ? `, run ${was.run}` : ""}`;
  for (const old of at.querySelectorAll("form, .answers")) old.remove();
  at.append(form);
  at.hidden = false;
  wire(form);
  at.scrollIntoView({ block: "nearest" });
  form.querySelector("input:not([type=checkbox]), select").focus();
  return true;
}

// amended gives the body of a corrected entry; nothing where nothing was changed.
function amended(form) {
  const body = JSON.parse(form.dataset.body);
  const now = bodyOf(form);
  let changed = false;
  for (const field of form.elements) {
    if (!field.name || (field.type === "checkbox" ? String(field.checked) : field.value) === field.dataset.was) continue;
    changed = true;
    if (now[field.name] === undefined) delete body[field.name];
    else body[field.name] = now[field.name];
  }
  return changed && body;
}

// close ends a correction, entered or not.
function close() {
  const at = $("correct");
  at.querySelector("form")?.remove();
  at.hidden = true;
  band([]);
}

document.addEventListener("click", async (event) => {
  const does = event.target.closest("#lately .correct, #lately button.back");
  const row = does?.closest("tr");
  if (!row) return;
  if (does.classList.contains("correct")) {
    if (correct(row)) event.preventDefault();
    return;
  }
  await takeBack(row.dataset.id);
});

// What was entered by mistake is taken back by an entry that says so, with a network
// or without one. A row that waits for it is struck through.
async function takeBack(id) {
  await put(day.programme, day.author, "withdrawal", 1, {}, id);
  await tell(away ? "no network" : "");
  await offer();
}

document.addEventListener("submit", async (event) => {
  const form = event.target.closest("form.back");
  if (!form) return;
  event.preventDefault();
  try {
    await takeBack(form.dataset.id);
  } catch {
    form.submit();
  }
});

// A voice is recorded with a remark where the browser lets a page listen.
const voice = document.querySelector("[data-voice]");
if (voice && globalThis.isSecureContext && navigator.mediaDevices && globalThis.MediaRecorder && crypto.subtle) {
  voice.hidden = false;
  let recorder;
  voice.addEventListener("click", async () => {
    if (recorder?.state === "recording") {
      recorder.stop();
      return;
    }
    const out = voice.form.querySelector(".answers");
    let stream;
    try {
      stream = await navigator.mediaDevices.getUserMedia({ audio: true });
    } catch {
      out.textContent = "The browser does not let this page listen";
      return;
    }
    const parts = [];
    recorder = new MediaRecorder(stream);
    recorder.ondataavailable = (e) => parts.push(e.data);
    recorder.onstop = async () => {
      for (const track of stream.getTracks()) track.stop();
      voice.textContent = "Record a voice";
      const blob = new Blob(parts, { type: recorder.mimeType });
      const sum = [...new Uint8Array(await crypto.subtle.digest("SHA-256", await blob.arrayBuffer()))].map((x) => x.toString(16).padStart(2, "0")).join("");
      await attach(sum, blob);
      voice.form.elements.voice.value = sum;
      out.textContent = "The voice is kept; enter the remark to keep it with its words";
    };
    recorder.start();
    voice.textContent = "Stop recording";
  });
}

$("export").addEventListener("click", async () => {
  const kept = await list(day.programme);
  const link = document.createElement("a");
  link.href = URL.createObjectURL(new Blob(kept.map((e) => e.text + "\n"), { type: "application/jsonl" }));
  link.download = `outbox-${day.programme.split("/").pop()}.jsonl`;
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 60_000);
});

if ("serviceWorker" in navigator) navigator.serviceWorker.register("/worker.js", { scope: day.programme + "/day" }).catch(() => {});
navigator.storage?.persist?.().catch(() => {});
addEventListener("online", offer);
addEventListener("pageshow", offer);
document.addEventListener("visibilitychange", () => { if (document.visibilityState === "visible") offer(); });
setInterval(offer, 5000);

const named = new URLSearchParams(location.search).get("correct"); // followed before this script was there
const row = named && document.querySelector(`#lately tr[data-id="${CSS.escape(named)}"]`);
if (row) correct(row);

// What is kept here from before goes first; then the page stands where those
// entries left it.
for (const entry of await list(day.programme)) follow(entry.kind, entry.body);
await offer();
