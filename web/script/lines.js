// Lines: one cursor for the course from above, the time along it, the channels of the runs
// and the tables; runs driven again from a common gate. Without it the page shows one
// station at a time.
import { strips } from "./part/strips.js";

const root = document.getElementById("lines");
if (root) begin(root);

async function begin(root) {
  const byId = (id) => document.getElementById(id);
  const [plan, seen, room, station, says, drive, gate, pace, clock, of, base] =
    ["plan", "seen", "room", "station", "station-says", "drive", "gate", "pace", "clock", "of", "between"].map(byId);
  const answer = await fetch(root.dataset.from, { headers: { Accept: "application/json" } });
  if (!answer.ok) return; // the page as it came says what there is
  const lines = await answer.json();
  const comma = root.dataset.comma === "yes";
  const calm = matchMedia("(prefers-reduced-motion: reduce)");
  const scale = (svg) => ({ sx: +svg.dataset.sx, sy: +svg.dataset.sy, ox: +svg.dataset.ox, oy: +svg.dataset.oy });
  const onPlan = scale(plan);
  const charts = [...root.querySelectorAll(".along")].map((svg) => ({ svg, on: scale(svg), cursor: svg.querySelector(".cursor") }));
  const [, , wide, high] = plan.getAttribute("viewBox").split(" ").map(Number);
  const marks = new Map([...plan.querySelectorAll(".at")].map((g) => [g.dataset.code, g]));
  const gap = plan.querySelector(".gap");
  const rows = new Map([...document.querySelectorAll("#there tbody tr")].map((tr) => [tr.dataset.code, tr]));
  const runs = new Map(lines.codes.map((q) => [q.code, q.run]));
  const line = new Map(lines.codes.map((q) => [q.code, q]));
  byId("show").hidden = true;
  byId("again").hidden = false;
  const beside = (path) => root.dataset.from.replace("/paths?", `/${path}?`);

  const number = (v, digits, sign) => {
    let text = Math.abs(v).toFixed(digits);
    const none = Number(text) === 0;
    text = (none ? "" : v < 0 ? "\u2212" : sign ? "+" : "") + text;
    return comma ? text.replace(".", ",") : text;
  };
  // Lengths come in m and are written in the reader's unit.
  const by = { length: +root.dataset.length, unit: root.dataset.lengthIn, digits: +root.dataset.digits, station: +root.dataset.stationDigits };
  const range = (low, high) => `(${[low, high].map((v) => number(v * by.length, by.digits, true)).join(" to ")})`;
  const length = (v, sign) => number(v * by.length, by.digits, sign);
  const where = (s) => `${number(s * by.length, by.station, false)}\u00a0${by.unit}`;
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
  const u = (x) => onPlan.ox + onPlan.sx * x;
  const v = (y) => onPlan.oy - onPlan.sy * y;

  // What is seen of the plan: how near, and about which place. It follows the control
  // until somebody moves it, and again when the control has gone out of it.
  const nearest = 24;
  const view = { by: 1, x: wide / 2, y: high / 2, moved: false };
  const show = () => {
    view.by = Math.min(nearest, Math.max(1, view.by));
    const w = wide / view.by, h = high / view.by;
    view.x = Math.min(wide - w / 2, Math.max(w / 2, view.x));
    view.y = Math.min(high - h / 2, Math.max(h / 2, view.y));
    plan.setAttribute("viewBox", `${view.x - w / 2} ${view.y - h / 2} ${w} ${h}`);
    plan.classList.toggle("near", view.by > 1);
    for (const g of marks.values()) g.setAttribute("transform", g.getAttribute("transform").replace(/( scale.*)?$/, ` scale(${1 / view.by})`));
  };
  const follow = (x, y) => {
    const inside = Math.abs(x - view.x) < wide / view.by / 2 && Math.abs(y - view.y) < high / view.by / 2;
    if (view.moved && inside) return;
    view.moved = false;
    [view.x, view.y] = [x, y];
  };
  const put = (code, x, y) => marks.get(code)?.setAttribute("transform", `translate(${u(x).toFixed(2)} ${v(y).toFixed(2)}) scale(${1 / view.by})`);

  // cones gives the room between a code's body and the cones beside it, those on the left first.
  const cones = (q, s) => {
    if (!q.body) return [];
    const room = (side, edge) => {
      const there = (name) => q.body[name] && between(lines.station, q.body[name], s);
      const sign = side === "left" ? 1 : -1, body = there(side), ends = [there(`${side}_low`), there(`${side}_high`)];
      return { side, edge, body, room: sign * (edge - body), ends: ends[0] === undefined ? null : ends.map((v) => sign * (edge - v)).sort((a, b) => a - b) };
    };
    const way = (lines.ways ?? []).find((w) => s >= w.from && s <= w.to);
    if (way) return [room("left", way.left), room("right", way.right)];
    const cone = (lines.cones ?? []).find((c) => Math.abs(c.x - s) <= 0.5); // as the server has it
    if (!cone) return [];
    const middle = between(lines.station, q.body.left, s) + between(lines.station, q.body.right, s);
    return [room(middle < 2 * cone.y ? "left" : "right", cone.y)];
  };
  const toCones = (q, s) => {
    const all = cones(q, s);
    gap?.setAttribute("d", all.map((c) => `M${u(s).toFixed(2)} ${v(c.body).toFixed(2)}L${u(s).toFixed(2)} ${v(c.edge).toFixed(2)}`).join(""));
    const what = lines.ways ? "the cones" : "the cone";
    room.textContent = all.length ? `${q.code} ${all.map((c) => {
      const past = c.room < 0;
      let text = `${past ? "reaches" : "has"} ${length(Math.abs(c.room), false)}\u00a0${by.unit} ${past ? "past" : "to"} ${what} on its ${c.side}`;
      if (c.ends) text += ` ${range(...(past ? [-c.ends[1], -c.ends[0]] : c.ends))}`;
      return text;
    }).join(" and ")} at ${where(s)}` : `No cones stand beside ${q.code} at ${where(s)}`;
  };

  // at shows a station everywhere but where the marks are.
  let apart = null, channels = null;
  const at = (s) => {
    says.textContent = where(s);
    station.setAttribute("aria-valuetext", says.textContent);
    for (const c of charts) c.cursor.setAttribute("transform", `translate(${c.on.ox + c.on.sx * s} 0)`);
    channels?.at(s);
    for (const q of lines.codes) {
      const row = rows.get(q.code);
      if (!row) continue;
      const there = (list) => between(lines.station, list, s);
      if (q.code !== lines.control) {
        row.querySelector(".gain").textContent = number(there(q.time), 2, true);
        row.querySelector(".aside").textContent = length(there(q.offset), true) + (q.low ? ` ${range(there(q.low), there(q.high))}` : "");
      }
      if (q.spread) row.querySelector(".spread").textContent = length(there(q.spread), false);
      if (q.speed) row.querySelector(".speed").textContent = number(there(q.speed) * +root.dataset.speed, 1, false);
      for (const side of ["left", "right"]) {
        const cell = row.querySelector(`.cones-${side}`), cone = cell && cones(q, s).find((c) => c.side === side);
        if (cell) cell.textContent = cone ? length(cone.room, false) : "";
      }
    }
    if (base.value === "cones") {
      toCones(line.get(of.value), s);
      return;
    }
    const a = line.get(base.value), b = line.get(of.value);
    if (a && b && gap) {
      const place = (q) => `${u(between(lines.station, q.x, s)).toFixed(2)} ${v(between(lines.station, q.y, s)).toFixed(2)}`;
      gap.setAttribute("d", `M${place(a)}L${place(b)}`);
    }
    if (!apart || apart.of !== of.value || apart.from !== base.value) return;
    const left = between(lines.station, apart.offset, s);
    const sign = left < 0 ? -1 : 1;
    let text = `${apart.of} lies ${length(Math.abs(left), false)}\u00a0${by.unit} to the ${left < 0 ? "right" : "left"} of ${apart.from} at ${where(s)}`;
    if (apart.low) {
      const ends = [apart.low, apart.high].map((list) => sign * between(lines.station, list, s)).sort((p, q) => p - q);
      text += ` ${range(...ends)}`;
    }
    room.textContent = text;
  };
  const stand = () => {
    const s = +station.value;
    at(s);
    const own = lines.codes[0];
    follow(u(between(lines.station, own.x, s)), v(between(lines.station, own.y, s)));
    for (const q of lines.codes) put(q.code, between(lines.station, q.x, s), between(lines.station, q.y, s));
    show();
  };
  const pair = async () => {
    if (base.value === "cones") {
      at(+station.value);
      return;
    }
    const got = await fetch(`${beside("room")}&of=${encodeURIComponent(of.value)}&from=${encodeURIComponent(base.value)}`, { headers: { Accept: "application/json" } });
    if (!got.ok) return;
    const now = await got.json();
    if (now.of !== of.value || now.from !== base.value) return; // asked anew meanwhile
    apart = now;
    at(+station.value);
  };

  // Driven again: every code's own run, all from the gate at the same moment.
  let frame = 0, last = 0, gone = 0, shown = 0, from = new Map(), longest = 0, gateAt = 0;
  const stop = () => {
    cancelAnimationFrame(frame);
    frame = 0;
    drive.textContent = "Drive again";
  };
  const drawn = () => {
    clock.textContent = `${number(gone, 1, false)} s`;
    const own = lines.codes[0].code, run = runs.get(own), t = gone + from.get(own);
    follow(u(between(run.t, run.x, t)), v(between(run.t, run.y, t)));
    for (const [code, r] of runs) put(code, between(r.t, r.x, gone + from.get(code)), between(r.t, r.y, gone + from.get(code)));
    show();
    const s = Math.min(between(run.t, run.station, t), +station.max);
    station.value = String(s);
    at(s);
  };
  const step = (now) => {
    gone = Math.min(longest, gone + ((now - last) / 1000) * +pace.value);
    last = now;
    // Where less motion is wanted, places are shown twice a second.
    if (!calm.matches || now - shown >= 500 || gone >= longest) {
      drawn();
      shown = now;
    }
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
    let s0 = gate.value === "here" ? +station.value : 0;
    if (s0 > +station.max * 0.98) s0 = 0; // there is nothing left to drive
    if (s0 !== gateAt) {
      gateAt = s0;
      channels?.again();
    }
    from = new Map([...runs].map(([code, r]) => [code, between(r.station, r.t, s0)]));
    longest = Math.max(...[...runs].map(([code, r]) => r.t[r.t.length - 1] - from.get(code)));
    gone = 0;
    last = performance.now();
    drive.textContent = "Stop";
    frame = requestAnimationFrame(step);
  });
  for (const [code, row] of rows) {
    const other = row.querySelector(".other"), link = row.querySelector(".run a");
    other.hidden = other.options.length < 2;
    link.hidden = false;
    other.addEventListener("change", async () => {
      const got = await fetch(`${beside("again")}&run=${encodeURIComponent(other.value)}`, { headers: { Accept: "application/json" } });
      if (!got.ok) return;
      const run = await got.json();
      if (run.run !== other.value) return;
      stop();
      runs.set(code, run);
      channels?.again();
      link.textContent = run.run;
      link.href = link.getAttribute("href").replace(/[^/]*$/, encodeURIComponent(run.run));
    });
  }
  station.addEventListener("input", () => { stop(); stand(); });
  for (const s of [of, base]) s.addEventListener("change", pair);
  for (const { svg, on } of charts) {
    svg.addEventListener("pointermove", (e) => {
      if (frame || (e.pointerType === "touch" && !e.isPrimary)) return;
      const p = new DOMPoint(e.clientX, e.clientY).matrixTransform(svg.getScreenCTM().inverse());
      const s = (p.x - on.ox) / on.sx;
      if (s < 0 || s > +station.max) return;
      station.value = String(s);
      stand();
    });
  }

  // The channels of the runs, below each other on the stations of the pictures above them, or
  // over time since the gate.
  const along = async () => {
    const part = byId("channels"), holder = byId("strips"), over = byId("over"), which = byId("which").querySelector("fieldset");
    const own = () => runs.get(lines.control);
    const style = new Map([...rows].map(([code, tr]) => [code, { mark: tr.querySelector(".code"), dash: tr.dataset.dash ? tr.dataset.dash.split(" ").map(Number) : null }]));
    const asked = (more) => {
      const q = new URLSearchParams({ over: over.value, gate: gateAt, ...more });
      for (const r of runs.values()) q.append("run", r.run);
      for (const box of which.querySelectorAll("input:checked")) q.append("channel", box.value);
      return `${part.dataset.from}&${q}`;
    };
    const take = async (address) => {
      const got = await fetch(address, { headers: { Accept: "application/json" } });
      if (!got.ok) throw new Error(`${got.status}`);
      return got.json();
    };
    const drawn = strips(holder, {
      comma,
      axis: () => (over.value === "time" ? { name: "time since the gate, s", by: 1 } : { name: `station, ${by.unit}`, by: by.length }),
      edges: (full) => ({ left: Math.max(44, full * 0.058), right: Math.max(72, full * 0.084) }), // as the pictures above have them
      pen(code) {
        const st = style.get(code);
        return { tone: st ? getComputedStyle(st.mark).color : "gray", dash: st?.dash, width: code === lines.control ? 1.8 : 1.3 };
      },
      async from(a, b, columns) {
        const got = await take(asked(a === undefined ? { columns } : { columns, from: a, to: b }));
        if (!which.querySelector("input")) choices(got.choices);
        return got;
      },
      click: (v) => go(v),
    });
    const time = (s) => between(own().station, own().t, s) - between(own().station, own().t, gateAt);
    const back = (t) => between(own().t, own().station, t + between(own().station, own().t, gateAt));
    const go = (v) => {
      if (frame) return;
      station.value = String(Math.min(+station.max, Math.max(0, over.value === "time" ? back(v) : v)));
      stand();
    };
    drawn.onhover = (v, e) => { if (e.pointerType !== "touch") go(v); };
    // What everything is at the cursor, once it rests.
    let rest = 0;
    const cursor = (s) => (over.value === "time" ? (frame ? gone : time(s)) : s);
    const self = {
      at(s) {
        drawn.cursor(cursor(s));
        clearTimeout(rest);
        if (!frame) rest = setTimeout(() => values(cursor(s)), 120);
      },
      async again() {
        await drawn.again();
        self.at(+station.value);
      },
    };
    const values = async (v) => {
      const got = await take(asked({ at: v })).catch(() => null);
      if (!got || frame) return;
      byId("apart").textContent = got.says;
      byId("apart-how").textContent = "In the channel in which a code lies farthest from the control at the cursor, for the channel\u2019s range. Single runs; no verdict.";
      const body = byId("values").tBodies[0];
      body.replaceChildren(...got.strips.map((c) => {
        const tr = document.createElement("tr"), th = document.createElement("th");
        th.scope = "row";
        th.textContent = c.title + (c.unit ? `, ${c.unit}` : "");
        tr.append(th);
        for (const code of rows.keys()) {
          const td = document.createElement("td");
          td.className = "num";
          td.textContent = c.lines.find((l) => l.code === code)?.at ?? "";
          tr.append(td);
        }
        return tr;
      }));
      byId("values-region").hidden = false;
    };
    // Eight at most are drawn; a ninth cannot be chosen until another is left out.
    const choices = (all) => {
      for (const c of all) {
        const label = document.createElement("label"), box = document.createElement("input");
        label.className = "tickbox";
        Object.assign(box, { type: "checkbox", value: c.channel, checked: c.drawn });
        label.append(box, c.title);
        which.append(label);
      }
      const bound = () => {
        const on = which.querySelectorAll("input:checked").length;
        for (const box of which.querySelectorAll("input")) box.disabled = box.checked ? on === 1 : on >= 8;
      };
      which.addEventListener("change", () => {
        bound();
        self.again();
      });
      bound();
    };
    holder.hidden = false;
    try {
      await drawn.show();
    } catch {
      part.hidden = true; // nothing was recorded of these runs that lies along the course
      return null;
    }
    byId("strips-acts").hidden = byId("which").hidden = false;
    over.addEventListener("change", async () => {
      await drawn.show();
      self.at(+station.value);
    });
    for (const button of part.querySelectorAll("button[data-look]")) button.addEventListener("click", () => drawn.look[button.dataset.look]());
    return self;
  };

  // The plan is moved by hand, wheel and keys.
  const place = (e) => new DOMPoint(e.clientX, e.clientY).matrixTransform(plan.getScreenCTM().inverse());
  const zoom = (by, about) => {
    const old = view.by;
    view.by = Math.min(nearest, Math.max(1, old * by));
    if (about) { // what is under the pointer stays there
      view.x = about.x + ((view.x - about.x) * old) / view.by;
      view.y = about.y + ((view.y - about.y) * old) / view.by;
      view.moved = true;
    }
    if (frame) show();
    else stand();
  };
  const all = () => {
    Object.assign(view, { by: 1, moved: false });
    show();
  };
  const move = (dx, dy) => {
    view.x += (dx * wide) / view.by;
    view.y += (dy * high) / view.by;
    view.moved = true;
    show();
  };
  byId("nearer").addEventListener("click", () => zoom(2));
  byId("farther").addEventListener("click", () => zoom(0.5));
  byId("whole").addEventListener("click", all);
  seen.tabIndex = 0;
  seen.setAttribute("role", "group");
  seen.setAttribute("aria-label", "The course from above: plus and minus come nearer and go farther, arrows move, zero shows all of it");
  const keys = {
    "+": () => zoom(1.5), "=": () => zoom(1.5), "-": () => zoom(1 / 1.5), 0: all,
    ArrowLeft: () => move(-0.15, 0), ArrowRight: () => move(0.15, 0), ArrowUp: () => move(0, -0.15), ArrowDown: () => move(0, 0.15),
  };
  seen.addEventListener("keydown", (e) => {
    if (!keys[e.key] || e.ctrlKey || e.metaKey || e.altKey) return;
    if (e.key.startsWith("Arrow") && view.by === 1) return; // the page moves
    e.preventDefault();
    keys[e.key]();
  });
  seen.addEventListener("wheel", (e) => {
    if (!e.ctrlKey && document.activeElement !== seen) return; // the page is rolled on, until the plan has been taken
    e.preventDefault();
    zoom(e.deltaY < 0 ? 1.25 : 0.8, place(e));
  }, { passive: false });
  let held = null;
  plan.addEventListener("pointerdown", (e) => { held = { at: place(e), x: e.clientX, y: e.clientY, far: false }; });
  plan.addEventListener("pointermove", (e) => {
    if (!held) return;
    held.far ||= Math.hypot(e.clientX - held.x, e.clientY - held.y) > 5;
    if (!held.far || view.by === 1) return;
    plan.setPointerCapture(e.pointerId);
    plan.classList.add("held");
    const p = place(e);
    view.x += held.at.x - p.x;
    view.y += held.at.y - p.y;
    view.moved = true;
    show();
  });
  plan.addEventListener("pointercancel", () => { held = null; plan.classList.remove("held"); });
  plan.addEventListener("pointerup", (e) => {
    const was = held;
    held = null;
    plan.classList.remove("held");
    if (!was || was.far) return;
    const p = place(e), own = lines.codes[0];
    let best = 0, least = Infinity;
    for (let i = 0; i < lines.station.length; i++) {
      const d = Math.hypot(u(own.x[i]) - p.x, v(own.y[i]) - p.y);
      if (d < least) [best, least] = [i, d];
    }
    stop();
    station.value = String(lines.station[best]);
    stand();
  });
  stand();
  await pair();
  root.dataset.ready = "yes";
  channels = await along();
  if (channels) {
    channels.at(+station.value);
    byId("channels").dataset.ready = "yes";
  }
}
