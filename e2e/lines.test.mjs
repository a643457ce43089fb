// The page of lines: one cursor for plan, chart and table, moved by keyboard; runs driven
// again from the gate at a pace of one's choice.
import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { auditThemes, open, shoot, sizes, worn, wrongs } from "./desk.mjs";
import { begin, laps, rows, waits } from "./long.mjs";

let house;
before(async () => {
  laps(begin("two-long-laps"));
  house = await open();
});
after(async () => { await house?.close(); });

const base = "/p/two-days/lines"; // the whole demonstration, as tools/browser calls it

test("the cursor moves by keyboard, and everything with it", async () => {
  const context = await house.browser.newContext({ viewport: sizes.desk });
  const page = await context.newPage();
  const wrong = wrongs(page);
  await page.goto(house.url + base);
  await page.locator("#lines[data-ready]").waitFor();
  const look = () => page.evaluate(() => ({
    at: +document.getElementById("station").value,
    says: document.getElementById("station-says").textContent,
    cursor: document.querySelector("#chart .cursor").getAttribute("transform"),
    mark: document.querySelector("#plan .at").getAttribute("transform"),
    gain: document.querySelector("#there tbody tr:last-child .gain").textContent,
  }));
  const last = await look();
  await page.locator("#station").focus();
  await page.keyboard.press("Home");
  const first = await look();
  assert.equal(first.at, 0);
  assert.match(first.gain, /^(\+|−)?0\.00$/, "nobody has gained anything at the gate");
  for (const what of ["says", "cursor", "mark"]) assert.notEqual(first[what], last[what], what);
  await page.keyboard.press("PageUp");
  const later = await look();
  assert.ok(later.at > 0);
  assert.notEqual(later.cursor, first.cursor);
  assert.deepEqual(wrong, []);
  await context.close();
});

test("runs are driven again at real speed or slowed", async () => {
  const context = await house.browser.newContext({ viewport: sizes.tablet });
  const page = await context.newPage();
  await page.goto(house.url + base);
  await page.locator("#lines[data-ready]").waitFor();
  // How far the control has come after some time, and how far its run says it should have.
  const paths = await page.evaluate(async () => (await fetch(document.getElementById("lines").dataset.from)).json());
  const run = paths.codes[0].run;
  const due = (t) => {
    let i = 0;
    while (i + 1 < run.t.length && run.t[i + 1] <= t) i++;
    return run.station[i];
  };
  for (const pace of ["1", "0.25"]) {
    await page.locator("#pace").selectOption(pace);
    const from = await page.evaluate(() => { document.getElementById("drive").click(); return performance.now(); });
    await page.waitForTimeout(1200);
    const { at, now } = await page.evaluate(() => { const at = +document.getElementById("station").value; document.getElementById("drive").click(); return { at, now: performance.now() }; });
    const gone = ((now - from) / 1000) * +pace;
    const speed = due(run.t.at(-1)) / run.t.at(-1);
    assert.ok(Math.abs(at - due(gone)) < Math.max(3, 0.35 * speed), `at pace ${pace} after ${gone.toFixed(2)} s the control is at ${at} m, due at ${due(gone)} m`);
  }
  await context.close();
});

test("room between two codes, another run, another gate, nearer and aside by keyboard", async () => {
  const context = await house.browser.newContext({ viewport: sizes.desk, reducedMotion: "reduce" });
  const page = await context.newPage();
  const wrong = wrongs(page);
  await page.goto(house.url + base + "?test=lane-change");
  await page.locator("#lines[data-ready]").waitFor();
  // The room that the page shows is the difference of the two codes' offsets.
  const paths = await page.evaluate(async () => (await fetch(document.getElementById("lines").dataset.from)).json());
  const [, one, two] = paths.codes;
  await page.locator("#of").selectOption(one.code);
  await page.locator("#between").selectOption(two.code);
  await page.waitForFunction(([a, b]) => document.getElementById("room").textContent.startsWith(`${a} lies `) && document.getElementById("room").textContent.includes(` of ${b} at `), [one.code, two.code]);
  const at = await page.evaluate(() => +document.getElementById("station").value);
  let i = 0;
  paths.station.forEach((s, k) => { if (Math.abs(s - at) < Math.abs(paths.station[i] - at)) i = k; });
  const said = Number((await page.locator("#room").textContent()).match(/lies ([\d.]+)/)[1]);
  assert.ok(Math.abs(said - Math.abs(one.offset[i] - two.offset[i])) < 0.02, `said ${said} m`);
  // Another run of a code, from the cursor as the gate.
  const row = page.locator(`#there tr[data-code="${one.code}"]`);
  const other = await row.locator(".other option:not(:checked)").first().textContent();
  await row.locator(".other").selectOption(other);
  await page.waitForFunction(([c, r]) => document.querySelector(`#there tr[data-code="${c}"] .run a`).textContent === r, [one.code, other]);
  await page.locator("#station").focus();
  await page.keyboard.press("Home");
  await page.keyboard.press("PageUp");
  const gate = await page.evaluate(() => +document.getElementById("station").value);
  await page.locator("#gate").selectOption("here");
  await page.locator("#pace").selectOption("0.1");
  await page.locator("#drive").focus();
  await page.keyboard.press("Enter");
  await page.waitForTimeout(900);
  await page.keyboard.press("Enter");
  const now = await page.evaluate(() => +document.getElementById("station").value);
  assert.ok(now >= gate - 0.2 && now < gate + 20, `from ${gate} m to ${now} m`);
  // The plan by keys.
  const box = () => page.locator("#plan").getAttribute("viewBox");
  const all = await box();
  await page.locator("#seen").focus();
  await page.keyboard.press("+");
  await page.keyboard.press("+");
  const near = await box();
  assert.notEqual(near, all);
  await page.keyboard.press("ArrowRight");
  assert.notEqual(await box(), near);
  await page.keyboard.press("0");
  assert.equal(await box(), all);
  assert.deepEqual(wrong, []);
  await context.close();
});

test("channels of the runs lie along the course, under the same cursor", async () => {
  const context = await house.browser.newContext({ viewport: sizes.desk, reducedMotion: "reduce", bypassCSP: true });
  const page = await context.newPage();
  const wrong = wrongs(page);
  await page.goto(`${house.url}${base}?test=lane-change`);
  await page.locator("#channels[data-ready]").waitFor();
  await page.waitForFunction(() => document.querySelectorAll("#values tbody tr").length === 8);
  // The speed that the channel has at the cursor is that of the run's own path there.
  const paths = await page.evaluate(async () => (await fetch(document.getElementById("lines").dataset.from)).json());
  const at = async (s) => {
    await page.evaluate((v) => { const el = document.getElementById("station"); el.value = v; el.dispatchEvent(new Event("input")); }, s);
    await page.waitForFunction((v) => document.getElementById("apart").textContent.endsWith(`at ${v.toFixed(1)}\u00a0m`), s);
  };
  await at(60);
  const run = paths.codes[0].run;
  const i = run.station.findIndex((s) => s > 60);
  const driven = (3.6 * (run.station[i + 3] - run.station[i - 3])) / (run.t[i + 3] - run.t[i - 3]);
  const speed = Number(await page.locator("#values tbody tr", { hasText: /^speed/ }).locator("td").first().textContent());
  assert.ok(Math.abs(speed - driven) < 1.5, `the channel has ${speed} km/h, the path ${driven}`);
  // Over time since the gate, nearer and along by keys, and driven again with the cursor.
  await page.locator("#over").selectOption("time");
  await page.waitForFunction(() => document.getElementById("apart").textContent.endsWith("after the gate"));
  const took = () => page.evaluate(() => document.getElementById("strips").dataset.took);
  for (const key of ["+", "ArrowRight", "0"]) {
    await page.evaluate(() => { delete document.getElementById("strips").dataset.took; });
    await page.locator("#strips").focus();
    await page.keyboard.press(key);
    await page.waitForFunction(() => document.getElementById("strips").dataset.took);
    assert.ok(Number(await took()) > 0);
  }
  // Fewer channels.
  await page.locator("#which summary").click();
  await page.locator("#which input:checked").first().uncheck();
  await page.waitForFunction(() => document.querySelectorAll("#values tbody tr").length === 7);
  assert.deepEqual(await auditThemes(page, "lines-channels"), []);
  assert.deepEqual(wrong, []);
  await context.close();
});

test("room to the cones, in the reader's units, with script and without the same", async () => {
  const said = [];
  for (const javaScriptEnabled of [true, false]) {
    const context = await worn(house, { theme: "paper.comma.length-ft.speed-mph", viewport: sizes.tablet, javaScriptEnabled });
    const page = await context.newPage();
    await page.goto(`${house.url}${base}?test=lane-change&station=54.7&of=R&from=cones&values=yes`);
    if (javaScriptEnabled) {
      await page.locator("#lines[data-ready]").waitFor();
      await page.evaluate(() => document.getElementById("station").dispatchEvent(new Event("input")));
    }
    const row = (await page.locator('#there tr[data-code="R"] td').allTextContents()).slice(0, 6);
    said.push([await page.locator("#room").textContent(), await page.locator("#station-says").textContent(), await page.locator("#station").getAttribute("aria-valuetext"), ...row]);
    assert.match(await page.locator("#there thead").textContent(), /control’s line, ft.*Spread, ft.*left, ft.*Speed, mph/);
    if (!javaScriptEnabled) assert.match(await page.locator("#values tbody tr").first().textContent(), /^speed, mph\d+,\d/);
    await context.close();
  }
  const close = (a, b) => a.replace(/\d+,\d+/g, "#") === b.replace(/\d+,\d+/g, "#") && [...a.matchAll(/\d+,\d+/g)].every((m, i) => Math.abs(Number(m[0].replace(",", ".")) - Number([...b.matchAll(/\d+,\d+/g)][i][0].replace(",", "."))) < 0.25);
  said[0].forEach((text, i) => assert.ok(close(text, said[1][i]), `with script ${JSON.stringify(text)}, without ${JSON.stringify(said[1][i])}`));
  assert.match(said[0][0], /^R .* cones on its left .* at 179,5\u00a0ft$/);
});

test("eight channels of two laps of 180,000 samples lie over each other without waiting", async () => {
  const page = await (await house.browser.newContext({ viewport: sizes.desk })).newPage();
  await page.goto(`${house.url}/p/two-long-laps/lines?control=K`);
  await page.locator("#channels[data-ready]").waitFor({ timeout: 120_000 });
  const strips = await page.evaluate(async () => (await (await fetch(`${document.getElementById("channels").dataset.from}&columns=10`)).json()).strips.map((s) => s.lines.length));
  assert.deepEqual(strips, Array(8).fill(2));
  const took = await waits(page, "#channels", "#strips");
  console.log(`2 laps of 8 channels of ${rows} samples: drawn in ${took.whole.toFixed(1)} ms (150), zoomed in ${took.near.toFixed(1)} ms (50), median of 20`);
  await shoot(page, "lines-long");
});

test("without a script the page answers for one station", async () => {
  const context = await house.browser.newContext({ viewport: sizes.desk, javaScriptEnabled: false });
  const page = await context.newPage();
  await page.goto(house.url + base + "?station=0");
  assert.match(await page.locator("#station-says").textContent(), /^0\.[01]\u00a0m$/);
  assert.match(await page.locator("#there tbody tr:last-child .gain").textContent(), /0\.00$/);
  await context.close();
});
