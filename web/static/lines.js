// Lines: one cursor for the course from above, the time along it and the table; runs
// driven again from a common gate. Without it the page shows one station at a time.
const root = document.getElementById("lines");
if (root) begin(root);

async function begin(root) {
  const plan = document.getElementById("plan");
  const chart = document.getElementById("chart");
  const station = document.getElementById("station");
  const says = document.getElementById("station-says");
  const drive = document.getElementById("drive");
  const pace = document.getElementById("pace");
  const zoom = document.getElementById("zoom");
  const answer = await fetch(root.dataset.from, { headers: { Accept: "application/json" } });
  if (!answer.ok) return; // the page as it came says what there is
  const lines = await answer.json();
  const comma = root.dataset.comma === "yes";
  const of = (svg) => ({ sx: +svg.dataset.sx, sy: +svg.dataset.sy, ox: +svg.dataset.ox, oy: +svg.dataset.oy });
  const onPlan = of(plan);
  const onChart = of(chart);
  const [, , wide, high] = plan.getAttribute("viewBox").split(" ").map(Number);
  const marks = new Map([...plan.querySelectorAll(".at")].map((g) => [g.dataset.code, g]));
  const cursor = chart.querySelector(".cursor");
  const rows = new Map([...document.querySelectorAll("#there tbody tr")].map((tr) => [tr.dataset.code, tr]));
  document.getElementById("show").hidden = true;
  for (const id of ["again", "drive", "nearer"]) document.getElementById(id).hidden = false;

  const number = (v, digits, sign) => {
    let text = Math.abs(v).toFixed(digits);
    const none = Number(text) === 0;
    text = (none ? "" : v < 0 ? "−" : sign ? "+" : "") + text;
    return comma ? text.replace(".", ",") : text;
  };
  // before gives the last place of a rising list that is not behind v.
  const before = (list, v) => {
    let lo = 0, hi = list.length - 1;
    while (lo < hi) {
      const mid = (lo + hi + 1) >> 1;
      if (list[mid] <= v) lo = mid; else hi = mid - 1;
    }
    return lo;
  };
  const between = (xs, ys, v) => {
    const i = before(xs, v);
    if (i >= xs.length - 1 || v <= xs[0]) return v <= xs[0] ? ys[0] : ys[ys.length - 1];
    return ys[i] + ((ys[i + 1] - ys[i]) * (v - xs[i])) / (xs[i + 1] - xs[i]);
  };
  const put = (code, x, y) => marks.get(code)?.setAttribute("transform", `translate(${(onPlan.ox + onPlan.sx * x).toFixed(1)} ${(onPlan.oy - onPlan.sy * y).toFixed(1)}) scale(${1 / +zoom.value})`);
  const look = (x, y) => {
    const by = +zoom.value;
    plan.classList.toggle("near", by > 1);
    if (by === 1) {
      plan.setAttribute("viewBox", `0 0 ${wide} ${high}`);
      return;
    }
    const u = onPlan.ox + onPlan.sx * x, v = onPlan.oy - onPlan.sy * y;
    plan.setAttribute("viewBox", `${u - wide / 2 / by} ${v - high / 2 / by} ${wide / by} ${high / by}`);
  };

  // at shows a station everywhere but on the plan.
  const at = (s) => {
    says.textContent = number(s, 1, false);
    cursor.setAttribute("transform", `translate(${onChart.ox + onChart.sx * s} 0)`);
    for (const q of lines.codes) {
      const row = rows.get(q.code);
      if (!row) continue;
      if (q.code !== lines.control) {
        row.querySelector(".gain").textContent = number(between(lines.station, q.time, s), 2, true);
        let aside = number(between(lines.station, q.offset, s), 2, true);
        if (q.low) aside += ` (${number(between(lines.station, q.low, s), 2, true)} to ${number(between(lines.station, q.high, s), 2, true)})`;
        row.querySelector(".aside").textContent = aside;
      }
      if (q.speed) row.querySelector(".speed").textContent = number(between(lines.station, q.speed, s) * 3.6, 1, false);
    }
  };
  const stand = () => {
    const s = +station.value;
    at(s);
    for (const q of lines.codes) put(q.code, between(lines.station, q.x, s), between(lines.station, q.y, s));
    const own = lines.codes[0];
    look(between(lines.station, own.x, s), between(lines.station, own.y, s));
  };

  // Driven again: every code's own run, all from the gate at the same moment.
  let frame = 0, from = 0, gone = 0;
  const longest = Math.max(...lines.codes.map((q) => q.run.t[q.run.t.length - 1]));
  const stop = () => {
    cancelAnimationFrame(frame);
    frame = 0;
    drive.textContent = "Drive again from the gate";
  };
  const step = (now) => {
    gone += ((now - from) / 1000) * +pace.value;
    from = now;
    const own = lines.codes[0].run;
    for (const q of lines.codes) put(q.code, between(q.run.t, q.run.x, gone), between(q.run.t, q.run.y, gone));
    look(between(own.t, own.x, gone), between(own.t, own.y, gone));
    const s = Math.min(between(own.t, own.station, gone), +station.max);
    station.value = String(s);
    at(s);
    if (gone >= longest) {
      stop();
      return;
    }
    frame = requestAnimationFrame(step);
  };
  drive.addEventListener("click", () => {
    if (frame) {
      stop();
      return;
    }
    gone = 0;
    from = performance.now();
    drive.textContent = "Stop";
    frame = requestAnimationFrame(step);
  });
  station.addEventListener("input", () => { stop(); stand(); });
  zoom.addEventListener("change", () => { if (!frame) stand(); });
  chart.addEventListener("pointermove", (e) => {
    if (frame || e.pointerType === "touch" && !e.isPrimary) return;
    const p = new DOMPoint(e.clientX, e.clientY).matrixTransform(chart.getScreenCTM().inverse());
    const s = (p.x - onChart.ox) / onChart.sx;
    if (s < 0 || s > +station.max) return;
    station.value = String(s);
    stand();
  });
  plan.addEventListener("click", (e) => {
    const p = new DOMPoint(e.clientX, e.clientY).matrixTransform(plan.getScreenCTM().inverse());
    const own = lines.codes[0];
    let best = 0, least = Infinity;
    for (let i = 0; i < lines.station.length; i++) {
      const d = Math.hypot(onPlan.ox + onPlan.sx * own.x[i] - p.x, onPlan.oy - onPlan.sy * own.y[i] - p.y);
      if (d < least) [best, least] = [i, d];
    }
    stop();
    station.value = String(lines.station[best]);
    stand();
  });
  stand();
  root.dataset.ready = "yes";
}
