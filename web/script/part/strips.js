// Strips: channels one below the other over one axis, of one recording or of several runs
// laid over each other, moved by hand, wheel, two fingers and keys.
//
// strips(holder, how) draws into a holder that can be focused. how is
//   from(begin, end, columns)  promises a window: { from, to, first, last, strips: [{ title,
//                              unit, range, lines: [{ code, low, high }] }] }
//   axis     { name, by }      what the axis is called, and what its values are multiplied by
//   comma    decimal comma
//   edges(full)  { left, right } of so many px in all: px beside the drawing; right holds values where lines have codes
//   pen(code)                  { tone, dash } of a line, in px
//   head                       px above the first strip, for what behind and before write there
//   behind and before(g, colours, foot, full)   draw below the lines, and above them
//   pointer(e, at)             true where it takes the pointer that goes down at a place
// It gives { show(begin, end), again(), view(), whole(), x(at), at(x), cursor(at), draw(),
// onshow, onhover }; holder.dataset.took is how many ms the last window took to be drawn.
export function strips(holder, how) {
  const picture = document.createElement("canvas"), over = document.createElement("canvas");
  for (const c of [picture, over]) {
    c.setAttribute("aria-hidden", "true");
    holder.append(c);
  }
  const self = { show, again, view: () => view && [...view], whole: () => held && [held.first, held.last], x, at, cursor, draw, onshow() {}, onhover() {} };
  const foot = 42, title = 20, least = 76, head = how.head ?? 0;
  let held = null, view = null, cursorAt = null, height = 0, tops = [];
  let wanted = null, asking = false;
  // How wide everything is, asked for once a picture: asking lays the page out.
  let left = 0, wide = 0, full = 0;
  function measure() {
    full = holder.clientWidth;
    const edges = how.edges(full);
    left = edges.left;
    wide = Math.max(50, full - left - edges.right);
  }
  measure();
  function x(v) { return left + (wide * (v - view[0])) / (view[1] - view[0]); }
  function at(px) { return view[0] + ((px - left) / wide) * (view[1] - view[0]); }

  // One window is asked for at a time; of those wanted meanwhile only the last.
  async function show(begin, end) {
    wanted = [begin, end];
    if (begin !== undefined && held) view = [begin, end];
    if (asking) {
      draw(); // what is there goes along meanwhile
      return;
    }
    asking = true;
    const began = performance.now();
    measure();
    try {
      while (wanted) {
        const [a, b] = wanted;
        wanted = null;
        const many = held?.strips[0]?.lines.length > 1;
        const got = await how.from(a, b, Math.max(100, Math.min(many ? 1200 : 4000, Math.round(wide * devicePixelRatio))));
        if (wanted) continue;
        held = got;
        view = [got.from, got.to];
      }
    } finally {
      asking = false;
    }
    size();
    draw();
    holder.dataset.took = (performance.now() - began).toFixed(1);
    self.onshow();
  }
  function again() { return view ? show(view[0], view[1]) : show(); }

  function size() {
    const lines = Math.max(1, ...held.strips.map((s) => s.lines.length));
    const each = lines > 1 ? Math.max(least, 15 * lines + 10) : least;
    tops = held.strips.map((_, i) => head + i * each);
    tops.push(head + held.strips.length * each);
    height = tops[tops.length - 1] + foot;
    if (holder.style.height !== `${height}px`) holder.style.height = `${height}px`;
  }

  function begin(canvas) {
    const scale = devicePixelRatio;
    const w = Math.round(full * scale), h = Math.round(height * scale);
    if (canvas.width !== w || canvas.height !== h) [canvas.width, canvas.height] = [w, h];
    const g = canvas.getContext("2d");
    g.setTransform(scale, 0, 0, scale, 0, 0);
    g.clearRect(0, 0, full, height);
    return g;
  }
  const colours = () => {
    const style = getComputedStyle(holder);
    const of = (name) => style.getPropertyValue(`--${name}`).trim();
    return { ink: of("ink"), soft: of("soft"), rule: of("rule"), paper: of("paper"), sans: of("sans"), of };
  };
  const scaleOf = (s, i) => {
    let [a, b] = s.range;
    if (!(b > a)) [a, b] = [a - 1, b + 1];
    const top = tops[i] + title, low = tops[i + 1] - 8;
    return { a, b, top, low, y: (v) => low - ((v - a) / (b - a)) * (low - top) };
  };
  function halo(g, c, text, px, py) {
    g.strokeStyle = c.paper;
    g.lineWidth = 4;
    g.lineJoin = "round";
    g.setLineDash([]);
    g.strokeText(text, px, py);
    g.fillText(text, px, py);
  }

  function draw() {
    if (!held) return;
    measure();
    const c = colours(), g = begin(picture), w = full, bottom = tops[tops.length - 1];
    g.font = `13px ${c.sans}`;
    how.behind?.(g, c, bottom, full);
    // Where it is: round places along the axis.
    const by = how.axis().by;
    const step = even((view[1] - view[0]) * by, Math.max(2, wide / 95), how.axis().clock);
    g.strokeStyle = c.rule;
    g.fillStyle = c.ink;
    g.lineWidth = 1;
    g.textAlign = "center";
    const from = Math.ceil((view[0] * by) / step - 1e-9), to = Math.floor((view[1] * by) / step + 1e-9);
    for (let k = from; k <= to; k++) {
      const px = Math.round(x((k * step) / by)) + 0.5;
      g.globalAlpha = 0.5; // behind the lines, in the sun too
      g.beginPath();
      g.moveTo(px, head);
      g.lineTo(px, bottom);
      g.stroke();
      g.globalAlpha = 1;
      g.fillText(number(k * step, digitsOf(step)), px, bottom + 19);
    }
    g.textAlign = "right";
    g.fillText(how.axis().name, left + wide, bottom + 37);
    held.strips.forEach((s, i) => {
      const q = scaleOf(s, i);
      g.strokeStyle = c.rule;
      g.lineWidth = 1;
      g.setLineDash([]);
      g.beginPath();
      g.moveTo(0, tops[i + 1] - 0.5);
      g.lineTo(w, tops[i + 1] - 0.5);
      g.stroke();
      // How much: round values that lie far enough apart to be read.
      g.textAlign = "right";
      g.fillStyle = c.soft;
      const apart = 14, round = even(q.b - q.a, (q.low - q.top) / apart);
      let ticks = [];
      for (let k = Math.ceil(q.a / round - 1e-9); k * round <= q.b + 1e-9 * round; k++) ticks.push(k * round);
      let digits = digitsOf(round);
      if (ticks.length < 2) { // its ends say more
        ticks = [q.a, ...ticks.filter((v) => Math.min(Math.abs(q.y(v) - q.low), Math.abs(q.y(v) - q.top)) >= apart), q.b];
        digits = digitsOf((q.b - q.a) / 10);
      }
      for (const v of ticks) {
        const py = Math.round(q.y(v)) + 0.5;
        g.beginPath();
        g.moveTo(left - 4, py);
        g.lineTo(left, py);
        g.stroke();
        g.fillText(number(v, digits), left - 7, Math.min(py + 4, tops[i + 1] - 4));
      }
      g.save();
      g.beginPath();
      g.rect(left, tops[i], wide, tops[i + 1] - tops[i]);
      g.clip();
      for (let n = s.lines.length - 1; n >= 0; n--) line(g, c, s.lines[n], q, n);
      g.restore();
    });
    above();
  }

  function line(g, c, l, q, place) {
    const n = l.low.length, per = (held.to - held.from) / n;
    const apart = n / 20; // farther apart than this it is a gap, not two samples
    const pen = how.pen?.(l.code, place) ?? { tone: c.ink };
    let spread = 0, joined = false, last = 0;
    g.beginPath();
    for (let k = 0; k < n; k++) {
      const low = l.low[k];
      if (low === null) continue;
      const u = x(held.from + per * (k + 0.5)), high = l.high[k];
      const a = q.y(low);
      if (!joined || k - last > apart) g.moveTo(u, a); else g.lineTo(u, a);
      if (high !== low) {
        const b = q.y(high);
        if (a - b > 3) spread++;
        g.lineTo(u, b);
      }
      joined = true;
      last = k;
    }
    g.strokeStyle = pen.tone;
    g.lineWidth = pen.width ?? 1.2;
    g.setLineDash(pen.dash && spread < n / 4 ? pen.dash : []); // dashes are not seen where a line is broad
    g.stroke();
    g.setLineDash([]);
  }

  // What lies over the picture, so that it moves without drawing the lines again.
  function above() {
    if (!held) return;
    const c = colours(), g = begin(over), bottom = tops[tops.length - 1];
    g.font = `13px ${c.sans}`;
    how.before?.(g, c, bottom, full);
    g.textAlign = "left";
    g.fillStyle = c.ink;
    g.font = `600 13px ${c.sans}`;
    held.strips.forEach((s, i) => halo(g, c, `${s.title}${s.unit ? `, ${s.unit}` : ""}`, left + 6, tops[i] + 15));
    if (cursorAt === null || cursorAt < view[0] || cursorAt > view[1]) return;
    const px = x(cursorAt);
    g.strokeStyle = c.ink;
    g.lineWidth = 1.2;
    g.setLineDash([4, 3]);
    g.beginPath();
    g.moveTo(px, head);
    g.lineTo(px, bottom);
    g.stroke();
    g.setLineDash([]);
    held.strips.forEach((s, i) => {
      const q = scaleOf(s, i), digits = digitsOf((q.b - q.a) / 200);
      const all = [];
      for (const l of s.lines) {
        const v = value(l);
        if (v !== null) all.push({ code: l.code, v, y: q.y(v), text: number(v, digits) });
      }
      if (s.lines.length === 1) {
        g.textAlign = "right";
        g.fillStyle = c.ink;
        g.font = `600 13px ${c.sans}`;
        if (all[0]) halo(g, c, all[0].text, left + wide - 4, tops[i] + 15);
        return;
      }
      // Each value beside its line's height, kept apart.
      all.sort((a, b) => a.y - b.y);
      const apart = 14;
      all.forEach((e, k) => { e.at = Math.max(e.y + 4, k ? all[k - 1].at + apart : tops[i] + 14); });
      for (let k = all.length - 1, room = tops[i + 1] - 4; k >= 0; k--, room -= apart) all[k].at = Math.min(all[k].at, room);
      for (const e of all) {
        const pen = how.pen(e.code);
        g.textAlign = "left";
        g.fillStyle = pen.tone;
        g.font = `600 13px ${c.sans}`;
        g.fillText(e.code, left + wide + 8, e.at);
        g.fillStyle = c.ink;
        g.font = `13px ${c.sans}`;
        g.fillText(e.text, left + wide + 22, e.at);
        g.fillStyle = pen.tone;
        g.beginPath();
        g.arc(px, e.y, 3, 0, 7);
        g.fill();
      }
    });
  }
  // The middle of what lies in the picture's column at the cursor, or in the nearest one.
  function value(l) {
    const n = l.low.length, k = Math.min(n - 1, Math.max(0, Math.floor(((cursorAt - held.from) / (held.to - held.from)) * n)));
    for (let d = 0; d < n / 20; d++) {
      for (const j of d ? [k - d, k + d] : [k]) if (j >= 0 && j < n && l.low[j] !== null) return (l.low[j] + l.high[j]) / 2;
    }
    return null;
  }
  function cursor(v) {
    cursorAt = v;
    above();
  }
  self.above = above;

  function number(v, digits) {
    let text = Math.abs(v).toFixed(digits);
    if (v < 0 && Number(text) !== 0) text = "\u2212" + text;
    return how.comma ? text.replace(".", ",") : text;
  }
  self.number = number;

  // Moving: the window stays within what there is.
  function see(a, b) {
    const [first, last] = self.whole();
    const width = Math.min(Math.max(b - a, (last - first) * 1e-4, 0.02), last - first);
    const from = Math.min(Math.max((a + b - width) / 2, first), last - width);
    return show(from, from + width);
  }
  self.see = see;
  const zoom = (by, about = (view[0] + view[1]) / 2) => see(about + (view[0] - about) / by, about + (view[1] - about) / by);
  const pan = (share) => see(view[0] + share * (view[1] - view[0]), view[1] + share * (view[1] - view[0]));
  self.look = { nearer: () => zoom(2), farther: () => zoom(0.5), earlier: () => pan(-0.5), later: () => pan(0.5), whole: () => see(...self.whole()) };
  const keys = {
    "+": () => zoom(1.5), "=": () => zoom(1.5), "-": () => zoom(1 / 1.5), 0: self.look.whole,
    ArrowLeft: () => pan(-0.1), ArrowRight: () => pan(0.1), PageUp: () => pan(-0.5), PageDown: () => pan(0.5),
    Home: () => pan(-1e6), End: () => pan(1e6),
  };
  holder.addEventListener("keydown", (e) => {
    if (e.target !== holder || !keys[e.key] || e.ctrlKey || e.metaKey || e.altKey || !view) return;
    e.preventDefault();
    keys[e.key]();
  });
  const px = (e) => e.clientX - holder.getBoundingClientRect().left;
  holder.addEventListener("wheel", (e) => {
    if (!view || (!e.ctrlKey && !holder.contains(document.activeElement))) return; // the page is rolled on, until the strips have been taken
    e.preventDefault();
    if (Math.abs(e.deltaX) > Math.abs(e.deltaY)) see(view[0] + (e.deltaX / wide) * (view[1] - view[0]), view[1] + (e.deltaX / wide) * (view[1] - view[0]));
    else zoom(e.deltaY < 0 ? 1.25 : 0.8, at(px(e)));
  }, { passive: false });
  const fingers = new Map();
  let grip = null;
  const gripped = () => {
    const on = [...fingers.values()];
    grip = { view: [...view], on: on.map((p) => at(p)), far: grip?.far ?? false, from: on[0] };
  };
  holder.addEventListener("pointerdown", (e) => {
    if (!view || e.button > 0 || e.target.getAttribute("role") === "slider") return;
    if (how.pointer?.(e, px(e))) return;
    grip = null;
    fingers.set(e.pointerId, px(e));
    gripped();
    holder.setPointerCapture(e.pointerId);
  });
  holder.addEventListener("pointermove", (e) => {
    if (view && !fingers.size) self.onhover(at(px(e)), e);
    if (!fingers.has(e.pointerId)) return;
    fingers.set(e.pointerId, px(e));
    const on = [...fingers.values()];
    grip.far ||= on.length > 1 || Math.abs(on[0] - grip.from) > 4;
    if (!grip.far) return;
    holder.classList.add("held");
    const span = grip.view[1] - grip.view[0];
    if (on.length === 1) {
      const a = grip.on[0] - ((on[0] - left) / wide) * span;
      see(a, a + span);
    } else if (Math.abs(on[0] - on[1]) > 8) { // what is under each finger stays there
      const width = ((grip.on[1] - grip.on[0]) * wide) / (on[1] - on[0]);
      if (width > 0) {
        const a = grip.on[0] - ((on[0] - left) / wide) * width;
        see(a, a + width);
      }
    }
  });
  const release = (e) => {
    if (!fingers.delete(e.pointerId)) return;
    if (e.type === "pointerup" && !grip.far && !fingers.size) how.click?.(at(px(e)), e);
    if (fingers.size) gripped();
    else holder.classList.remove("held");
  };
  holder.addEventListener("pointerup", release);
  holder.addEventListener("pointercancel", release);
  new ResizeObserver(() => {
    if (holder.clientWidth === full || !view) return;
    draw();
    again();
  }).observe(holder);
  new MutationObserver(draw).observe(document.documentElement, { attributes: true, attributeFilter: ["data-theme"] });
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", draw);
  return self;
}

// even gives a round step that makes no more than about n of a length; of a minute and
// more in whole minutes, where it is a clock.
function even(length, n, clock) {
  const raw = length / n;
  if (clock && raw > 20) return [30, 60, 120, 300, 600, 1200, 3600].find((s) => s >= raw) ?? 3600 * Math.ceil(raw / 3600);
  const p = 10 ** Math.floor(Math.log10(raw));
  const f = raw / p;
  return p * (f > 5 ? 10 : f > 2 ? 5 : f > 1 ? 2 : 1);
}

const digitsOf = (step) => Math.min(9, Math.max(0, Math.ceil(-Math.log10(step) - 1e-9)));
