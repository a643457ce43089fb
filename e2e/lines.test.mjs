// The page of lines: one cursor for plan, chart and table, moved by keyboard; runs driven
// again from the gate at a pace of one's choice.
import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { open, sizes } from "./desk.mjs";

let house;
before(async () => { house = await open(); });
after(async () => { await house?.close(); });

const base = "/p/two-days/lines"; // the whole demonstration, as tools/browser calls it

test("the cursor moves by keyboard, and everything with it", async () => {
  const context = await house.browser.newContext({ viewport: sizes.desk });
  const page = await context.newPage();
  const errors = [];
  page.on("pageerror", (e) => errors.push(String(e)));
  page.on("console", (m) => { if (m.type() === "error") errors.push(m.text()); });
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
  assert.deepEqual(errors, []);
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
  const errors = [];
  page.on("pageerror", (e) => errors.push(String(e)));
  page.on("console", (m) => { if (m.type() === "error") errors.push(m.text()); });
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
  assert.deepEqual(errors, []);
  await context.close();
});

test("without a script the page answers for one station", async () => {
  const context = await house.browser.newContext({ viewport: sizes.desk, javaScriptEnabled: false });
  const page = await context.newPage();
  await page.goto(house.url + base + "?station=0");
  assert.match(await page.locator("#station-says").textContent(), /^0(\.\d)?$/);
  assert.match(await page.locator("#there tbody tr:last-child .gain").textContent(), /0\.00$/);
  await context.close();
});
