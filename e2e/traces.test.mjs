// Traces of a recording: drawn and zoomed in time, posts that are moved by keys, a move
// that is kept with its reason and taken back, nothing for axe to find.
import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { axe, open, shoot, sizes } from "./desk.mjs";
import { begin, recording, rows, waits } from "./long.mjs";

let house, long;
before(async () => {
  long = begin("half-an-hour");
  recording(long);
  house = await open();
});
after(async () => {
  await house?.close();
  long?.end();
});

test("eight channels of 180,000 samples are drawn and zoomed without waiting", async () => {
  const page = await (await house.browser.newContext({ viewport: sizes.desk })).newPage();
  await page.goto(`${house.url}/p/half-an-hour/recordings/long/1`);
  await page.waitForFunction(() => document.querySelector("#traces output")?.textContent);
  assert.equal(await page.evaluate(async () => (await (await fetch(`${document.getElementById("traces").dataset.from}?columns=10`)).json()).strips.length), 8);
  const took = await waits(page, "#traces", "#traces .window");
  console.log(`8 channels of ${rows} samples: drawn in ${took.whole.toFixed(1)} ms (150), zoomed in ${took.near.toFixed(1)} ms (50), median of 20`);
  await shoot(page, "traces-long");
});

test("a cut is moved by keys, kept with its reason, and taken back", async () => {
  const context = await house.browser.newContext({ viewport: sizes.desk, bypassCSP: true });
  const page = await context.newPage();
  const wrong = [];
  page.on("console", (m) => m.type() === "error" && wrong.push(m.text()));
  page.on("pageerror", (e) => wrong.push(String(e)));
  await page.goto(`${house.url}/p/tarn-valley/recordings`);
  await page.locator("tbody th a").first().click();
  const post = page.getByRole("slider", { name: /^Begin of run / });
  await post.waitFor();
  const begin = await page.getByLabel("Begins at, s").inputValue();
  await post.focus();
  await page.keyboard.press("ArrowRight");
  assert.ok(Math.abs(await page.getByLabel("Begins at, s").inputValue() - begin - 0.1) < 0.006);
  await page.getByRole("button", { name: "Move the cut" }).click();
  assert.equal(await page.locator("#why:invalid").count(), 1, "without a reason nothing is sent");
  await page.getByLabel(/Why it is moved/).fill("traffic at the gate");
  await page.keyboard.press("Enter");
  await page.getByRole("heading", { name: "Cuts that were moved" }).waitFor();
  assert.match(await page.locator("main").innerText(), /begin from .* traffic at the gate/);
  for (const theme of ["light", "dark", "sunlight"]) {
    await page.evaluate((t) => { document.documentElement.dataset.theme = t; dispatchEvent(new Event("resize")); }, theme);
    await page.addScriptTag({ path: axe });
    const found = await page.evaluate(() => globalThis.axe.run().then((r) => r.violations.map((v) => `${v.id}: ${v.nodes[0].html}`)));
    assert.deepEqual(found, [], theme);
    await shoot(page, `traces-${theme}`);
  }
  await page.getByRole("button", { name: "Take the move back" }).click();
  await page.getByRole("heading", { name: "Cuts that were moved" }).waitFor({ state: "detached" });
  assert.equal(await page.getByLabel("Begins at, s").inputValue(), begin);
  assert.deepEqual(wrong, []);
  await context.close();
});
