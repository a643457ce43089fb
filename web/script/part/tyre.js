// What a tyre's size says as it is typed, the same as tyre.AsTyped in Go: both pass
// tyre/testdata/typed.json. The list is tyre.Shared, sent with the page.

class Wrong extends Error {}

// read takes a size apart, as ParseSize does; it throws Wrong where it cannot be read.
function read(text, list) {
  if (new TextEncoder().encode(text).length > 100) throw new Wrong(`a tyre size has no ${new TextEncoder().encode(text).length} characters`);
  let rest = [...text.trim()].map((c) => (c.toUpperCase().length === c.length ? c.toUpperCase() : c)).join(""); // letter for letter
  const blank = () => { rest = rest.replace(/^[ \t\u00a0]+/, ""); };
  const take = (prefix) => {
    if (!rest.startsWith(prefix)) return false;
    rest = rest.slice(prefix.length);
    return true;
  };
  const digits = (least, most) => {
    const found = /^[0-9]*/.exec(rest)[0];
    if (found.length < least || found.length > most) return undefined;
    rest = rest.slice(found.length);
    return Number(found);
  };
  const ends = () => rest === "" || /^[ \t\u00a0]/.test(rest);
  const inTable = (index) => {
    if (list.load_kg[index - list.least_load_index] === undefined) throw new Wrong(`load index ${index} is not in the table`);
    return index;
  };
  const service = () => {
    const bracket = take("(");
    if (!bracket && (!/^[0-9]/.test(rest) || rest.startsWith("3PMSF"))) return undefined;
    const v = { index: digits(2, 3), twin: 0 };
    if (v.index === undefined) throw new Wrong("a load index has two or three digits");
    if (take("/")) {
      v.twin = digits(2, 3);
      if (!v.twin) throw new Wrong("the load index for twin wheels has two or three digits");
    }
    inTable(v.index);
    if (v.twin) inTable(v.twin);
    if (v.twin > v.index) throw new Wrong(`a tyre of a twin carries no more than one alone, but the load index rises from ${v.index} to ${v.twin}`);
    blank();
    const inner = !bracket && take("(");
    if (rest === "" || rest.charCodeAt(0) >= 0x80) throw new Wrong("the load index has no speed symbol");
    v.symbol = rest[0];
    if (!list.speed_symbols.some((s) => s.symbol === v.symbol)) throw new Wrong(`${quoted(v.symbol)} is no speed symbol`);
    rest = rest.slice(1);
    if (bracket || inner) {
      if (!take(")")) throw new Wrong("a bracket is not closed");
      v.above = v.symbol === "Y";
    }
    if (inner && !v.above) throw new Wrong("only Y stands in brackets, for more than 300 km/h");
    if (!ends() && !rest.startsWith("(")) throw new Wrong(`${quoted(rest)} after the speed symbol is not understood`);
    return v;
  };

  const s = { kind: list.kinds.find((k) => take(k)) ?? "", aspect: 0, marks: new Set() };
  blank();
  s.width = digits(3, 3);
  if (!(s.width >= 100)) throw new Wrong("it does not begin with a width of three digits in mm");
  blank();
  if (take("/")) {
    blank();
    s.aspect = digits(2, 3);
    if (!(s.aspect >= 20 && s.aspect <= 110)) throw new Wrong("after the stroke there is no aspect ratio between 20 and 110 %");
    blank();
  }
  s.construction = list.constructions.find((c) => take(c));
  if (!s.construction) throw new Wrong("the construction (R, ZR, RF, D, B or -) is missing after the width");
  blank();
  s.rim = digits(2, 2);
  if (s.rim === undefined) throw new Wrong("the rim is not two digits in inches");
  s.half = 0;
  if (/^[.,]/.test(rest)) {
    rest = rest.slice(1);
    s.half = digits(1, 1);
    if (s.half !== 0 && s.half !== 5) throw new Wrong("a rim has whole or half inches");
  }
  const inches = s.rim + s.half / 10;
  if (inches < 8 || inches > 28) throw new Wrong("the rim is not between 8 and 28 inches");
  blank();
  s.commercial = list.commercial.find((c) => take(c)) ?? "";
  blank();
  s.service = service();
  if (s.service) {
    blank();
    s.second = service();
    blank();
  }
  if (s.second?.above) throw new Wrong("(Y) belongs to the first service description");
  while (rest !== "") {
    const mark = list.marks.find(([typed]) => {
      const before = rest;
      if (take(typed) && ends()) return true;
      rest = before;
      return false;
    });
    if (!mark) throw new Wrong(`${quoted(rest)} is not understood`);
    s.marks.add(mark[1]);
    blank();
  }
  return s;
}

const quoted = (text) => JSON.stringify(text).replaceAll("\u00a0", "\\u00a0");

// written gives a size in one form, as Size.String does.
function written(s) {
  const service = (v) => {
    const text = `${v.index}${v.twin ? "/" + v.twin : ""}${v.symbol}`;
    return " " + (v.above ? `(${text})` : text);
  };
  const two = (n) => String(n).padStart(2, "0");
  return s.kind + String(s.width).padStart(3, "0") + (s.aspect ? "/" + two(s.aspect) : "") + (s.construction === "-" ? "" : " ") + s.construction + two(s.rim) + (s.half ? "." + s.half : "") + s.commercial +
    (s.service ? service(s.service) : "") + (s.second ? service(s.second) : "") + ["XL", "M+S", "3PMSF", "TL"].filter((m) => s.marks.has(m)).map((m) => " " + m).join("");
}

// whole rounds to a whole number, halves to the even one, as numbers are printed in Go.
function whole(x) {
  const low = Math.floor(x);
  const over = x - low;
  return String(over > 0.5 || (over === 0.5 && low % 2 !== 0) ? low + 1 : low);
}

const slack = 1e-9; // m/s: a speed that was 240 km/h before it became m/s stays within

function shareAt(list, symbol, mps) {
  const lines = list.load_shares[symbol] ?? [];
  const kmh = mps * 3.6;
  if (lines.length === 0 || kmh <= lines[0][0]) return 1;
  for (let i = 1; i < lines.length; i++) {
    const [a, b] = [lines[i - 1], lines[i]];
    if (kmh <= b[0]) return a[1] + ((b[1] - a[1]) * (kmh - a[0])) / (b[0] - a[0]);
  }
  return lines[lines.length - 1][1];
}

function variantOf(s) {
  if (s.kind === "LT") return "light_truck";
  if (s.commercial) return "commercial";
  if (s.kind === "T") return "temporary";
  if (s.kind === "HL") return "high";
  if (s.marks.has("XL")) return "extra";
  return s.kind === "P" ? "p_metric" : "standard";
}

// against says what a size is marked for, and how that stands to a vehicle.
function against(s, asked, list) {
  const out = [];
  const say = (about, standing, text) => out.push({ about, standing, text });
  const loadOf = (index) => list.load_kg[index - list.least_load_index];
  const v = s.service;
  const symbolKmh = v && list.speed_symbols.find((x) => x.symbol === v.symbol).kmh;
  const zr = s.construction === "ZR" || s.construction === "ZRF";
  const marked = Boolean(v) || zr;
  const top = (v ? symbolKmh : list.zr_kmh) / 3.6;
  const mps = asked.top_speed_mps ?? 0;

  if (!v) say("load_index", "not_judged", "No load index is marked: what the tyre carries is not known.");
  else say("load_index", "marked", `Load index ${v.index}: ${whole(loadOf(v.index))} kg a tyre${v.twin ? `; ${v.twin} on twin wheels: ${whole(loadOf(v.twin))} kg a tyre` : ""}.`);
  const variant = variantOf(s);
  const kpa = list.reference_kpa[variant];
  say("load_variant", "marked", kpa ? `${list.variants[variant]}: it carries its load at ${whole(kpa)} kPa cold.` : `${list.variants[variant]}: the pressure for its load stands on the sidewall.`);
  if (!marked) say("speed_symbol", "not_judged", "No speed symbol is marked: up to what speed the tyre carries its load is not known.");
  else if (!v) say("speed_symbol", "marked", `ZR without a speed symbol: above ${whole(top * 3.6)} km/h, how far the tyre's maker says.`);
  else if (v.above) say("speed_symbol", "marked", `(${v.symbol}): above ${whole(top * 3.6)} km/h, how far the tyre's maker says.`);
  else say("speed_symbol", "marked", `Speed symbol ${v.symbol}: up to ${whole(top * 3.6)} km/h.`);

  const part = v && mps > 0 && mps <= top + slack ? shareAt(list, v.symbol, mps) : 1;
  for (const [axle, kg, twin] of [["front", asked.front_axle_kg ?? 0, false], ["rear", asked.rear_axle_kg ?? 0, asked.twin_rear ?? false]]) {
    const about = axle + "_axle";
    if (!(kg > 0)) {
      say(about, "not_judged", `The load on the ${axle} axle is not told.`);
      continue;
    }
    if (!v) {
      say(about, "not_judged", `Without a load index the load on the ${axle} axle is not judged.`);
      continue;
    }
    if (twin && !v.twin) {
      say(about, "not_judged", `Without a load index for twin wheels the load on the ${axle} axle is not judged.`);
      continue;
    }
    const index = twin ? v.twin : v.index;
    const load = kg / (twin ? 4 : 2);
    const may = loadOf(index);
    const carried = may * part;
    const less = carried < may ? ` at ${whole(mps * 3.6)} km/h (${whole((100 * carried) / may)} % of ${whole(may)} kg)` : "";
    say(about, load > carried * (1 + 1e-12) ? "over" : "within", `The ${axle} axle puts ${whole(load)} kg on a tyre, load index ${index} carries ${whole(carried)} kg${less}.`);
  }

  if (!(mps > 0)) say("top_speed", "not_judged", "The vehicle's top speed is not told.");
  else if (!marked) say("top_speed", "not_judged", "Without a speed symbol the vehicle's top speed is not judged.");
  else if (v && (!v.above || mps <= top + slack)) say("top_speed", mps > top + slack ? "over" : "within", `The vehicle reaches ${whole(mps * 3.6)} km/h, the speed symbol ${v.symbol} ends at ${whole(top * 3.6)} km/h.`);
  else if (mps <= top + slack) say("top_speed", "within", `The vehicle reaches ${whole(mps * 3.6)} km/h, ZR is for more than ${whole(top * 3.6)} km/h.`);
  else say("top_speed", "not_judged", `The vehicle reaches ${whole(mps * 3.6)} km/h: above ${whole(top * 3.6)} km/h the tyre's maker says whether it carries its load.`);
  return out;
}

// asTyped says what a size says as it is typed, and how it stands to the vehicle.
export function asTyped(text, asked, list) {
  try {
    const s = read(text, list);
    return { size: written(s), findings: against(s, asked, list) };
  } catch (e) {
    if (!(e instanceof Wrong)) throw e;
    return { wrong: e.message, hint: list.hints.size, findings: [] };
  }
}
