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

test("without a script the page answers for one station", async () => {
  const context = await house.browser.newContext({ viewport: sizes.desk, javaScriptEnabled: false });
  const page = await context.newPage();
  await page.goto(house.url + base + "?station=0");
  assert.match(await page.locator("#station-says").textContent(), /^0(\.\d)?$/);
  assert.match(await page.locator("#there tbody tr:last-child .gain").textContent(), /0\.00$/);
  await context.close();
});
