// Traces: channels of a recording below each other with the cut of one run between two
// posts, which can be dragged or moved by keys. Without it the form takes the times.
//
// traces(canvas, from) draws into a canvas; from(begin, end, columns) promises a window:
// { from_s, to_s, channels: [{ channel, unit, low, high, range }] }. It gives
// { show(begin, end), window(), x(t), t(x), onshow }.
export function traces(canvas, from) {
  const left = 8;
  let held = null;
  let asked = 0;
  const self = { show, window: () => held && [held.from_s, held.to_s], x, t, draw, onshow: () => {} };
  const wide = () => canvas.clientWidth - 2 * left;
  function x(time) { return left + (wide() * (time - held.from_s)) / (held.to_s - held.from_s); }
  function t(at) { return held.from_s + ((at - left) / wide()) * (held.to_s - held.from_s); }
  async function show(begin, end) {
    const mine = ++asked;
    const got = await from(begin, end, Math.max(100, Math.min(4000, Math.round(wide() * devicePixelRatio))));
    if (mine !== asked) return; // a later window was asked for meanwhile
    held = got;
    draw();
    self.onshow();
  }
  function draw() {
    if (!held) return;
    const scale = devicePixelRatio;
    const style = getComputedStyle(canvas);
    const high = canvas.clientHeight;
    canvas.width = canvas.clientWidth * scale;
    canvas.height = high * scale;
    const g = canvas.getContext("2d");
    g.scale(scale, scale);
    const ink = style.getPropertyValue("--ink"), soft = style.getPropertyValue("--soft"), rule = style.getPropertyValue("--rule");
    const each = high / held.channels.length;
    held.channels.forEach((c, i) => {
      const top = i * each + 18, low = (i + 1) * each - 5;
      const [a, b] = c.range;
      const y = (v) => (b > a ? low - ((v - a) / (b - a)) * (low - top) : (low + top) / 2);
      g.strokeStyle = rule;
      g.lineWidth = 1;
      g.beginPath();
      g.moveTo(0, (i + 1) * each - 0.5);
      g.lineTo(canvas.clientWidth, (i + 1) * each - 0.5);
      g.stroke();
      g.strokeStyle = ink;
      g.beginPath();
      const n = c.low.length;
      let joined = false;
      let last = 0;
      const apart = n / 20; // farther apart than this it is a gap, not two samples
      for (let k = 0; k < n; k++) {
        if (c.low[k] === null) continue;
        const u = left + (wide() * (k + 0.5)) / n;
        if (!joined || k - last > apart) g.moveTo(u, y(c.low[k])); else g.lineTo(u, y(c.low[k]));
        if (c.high[k] !== c.low[k]) g.lineTo(u, y(c.high[k]));
        joined = true;
        last = k;
      }
      g.stroke();
      g.fillStyle = soft;
      g.font = `13px ${style.getPropertyValue("--sans")}`;
      g.fillText(`${c.channel}${c.unit ? ", " + c.unit : ""}: ${+a.toPrecision(3)} to ${+b.toPrecision(3)}`.replaceAll("-", "−"), left + 12, i * each + 14);
    });
  }
  return self;
}

const root = document.getElementById("traces");
if (root) begin(root);

async function begin(root) {
  const canvas = root.querySelector("canvas");
  const form = document.getElementById("recut");
  const address = root.dataset.from;
  const drawn = traces(canvas, async (a, b, columns) => {
    const answer = await fetch(`${address}?columns=${columns}` + (a === undefined ? "" : `&from=${a}&to=${b}`), { headers: { Accept: "application/json" } });
    if (!answer.ok) throw new Error(`traces: ${answer.status}`);
    return answer.json();
  });
  root.hidden = false;
  try {
    await drawn.show();
  } catch {
    root.hidden = true; // the table says what there is
    return;
  }
  const [first, last] = drawn.window();
  const says = root.querySelector("output");
  const see = async (a, b) => {
    const width = Math.min(Math.max(b - a, 0.05), last - first);
    const from = Math.min(Math.max((a + b - width) / 2, first), last - width);
    const began = performance.now();
    await drawn.show(from, from + width);
    root.dataset.took = (performance.now() - began).toFixed(1);
  };
  const posts = new Map([...root.querySelectorAll("[role=slider]")].map((h) => [h.dataset.end, h]));
  const place = () => {
    const [a, b] = drawn.window();
    says.textContent = `${a.toFixed(2)} s to ${b.toFixed(2)} s`;
    for (const [end, post] of posts) {
      const v = +form?.elements[end].value.replace(",", ".");
      post.hidden = !form || !(v >= a && v <= b);
      post.style.left = `${drawn.x(v)}px`;
      post.setAttribute("aria-valuemin", first.toFixed(2));
      post.setAttribute("aria-valuemax", last.toFixed(2));
      post.setAttribute("aria-valuenow", v.toFixed(2));
      post.setAttribute("aria-valuetext", `${v.toFixed(2)} s`);
    }
  };
  drawn.onshow = place;
  place();
  const by = { nearer: (a, b) => [a + (b - a) / 4, b - (b - a) / 4], farther: (a, b) => [a - (b - a) / 2, b + (b - a) / 2], earlier: (a, b) => [a - (b - a) / 2, a + (b - a) / 2], later: (a, b) => [a + (b - a) / 2, b + (b - a) / 2], whole: () => [first, last] };
  for (const button of root.querySelectorAll("button[data-look]")) button.addEventListener("click", () => see(...by[button.dataset.look](...drawn.window())));
  addEventListener("resize", () => see(...drawn.window()));
  if (!form) return;
  const choose = () => {
    const o = form.elements.piece.selectedOptions[0];
    form.elements.begin.value = o.dataset.begin;
    form.elements.end.value = o.dataset.end;
    place();
  };
  form.elements.piece.addEventListener("change", () => {
    choose();
    const a = +form.elements.begin.value, b = +form.elements.end.value;
    see(a - (b - a) / 4, b + (b - a) / 4);
  });
  choose();
  for (const name of ["begin", "end"]) form.elements[name].addEventListener("input", place);
  const put = (end, v) => {
    const a = +form.elements.begin.value, b = +form.elements.end.value;
    v = Math.min(Math.max(v, first), last);
    v = end === "begin" ? Math.min(v, b - 0.01) : Math.max(v, a + 0.01);
    form.elements[end].value = v.toFixed(2);
    place();
  };
  for (const [end, post] of posts) {
    post.addEventListener("keydown", (e) => {
      const step = { ArrowLeft: -0.1, ArrowDown: -0.1, ArrowRight: 0.1, ArrowUp: 0.1, PageDown: -1, PageUp: 1 }[e.key];
      if (!step) return;
      e.preventDefault();
      put(end, +form.elements[end].value + step * (e.shiftKey ? 10 : 1));
    });
    post.addEventListener("pointerdown", (e) => {
      post.setPointerCapture(e.pointerId);
      post.onpointermove = (m) => put(end, drawn.t(m.clientX - canvas.getBoundingClientRect().left));
    });
    post.addEventListener("pointerup", () => { post.onpointermove = null; });
  }
}
