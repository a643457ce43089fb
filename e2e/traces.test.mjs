// Traces of a recording: drawn and zoomed in time, posts that are moved by keys, a move
// that is kept with its reason and taken back, nothing for axe to find.
import assert from "node:assert/strict";
import { execFileSync } from "node:child_process";
import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { after, before, test } from "node:test";
import { axe, open, shoot, sizes } from "./desk.mjs";

let house, folder;
const rows = 180_000; // half an hour at 100 Hz
const long = `${process.env.BOOKEND_PROGRAMMES}/half-an-hour`;
before(async () => {
  folder = mkdtempSync(`${tmpdir()}/bookend-`);
  const names = ["speed", "ax", "ay", "yaw_rate", "steering", "brake", "pitch", "roll"];
  const lines = [`time [s],speed [m/s],ax [m/s²],ay [m/s²],yaw_rate [deg/s],steering [deg],brake,pitch [deg],roll [deg]`];
  for (let i = 0; i < rows; i++) lines.push([(i / 100).toFixed(2), ...names.map((_, k) => (20 + 5 * Math.sin(i / (97 + 13 * k))).toFixed(3))].join(","));
  writeFileSync(`${folder}/long.csv`, lines.join("\n") + "\n");
  writeFileSync(`${folder}/log.csv`, "stint,code,run,recording\n1,K,1,long.csv\n");
  rmSync(long, { recursive: true, force: true });
  const run = (...args) => execFileSync(process.env.BOOKEND, args, { stdio: ["ignore", "pipe", "inherit"] });
  run("new", long, "--zone", "Europe/London");
  run("import", "--folder", long, "--test", "long", "--procedure", "circle", "--set", "steering_ratio=15", "--set", "wheelbase=3m", `${folder}/long.csv`, `${folder}/log.csv`);
  house = await open();
});
after(async () => {
  await house?.close();
  rmSync(long, { recursive: true, force: true });
  rmSync(folder, { recursive: true, force: true });
});

test("eight channels of 180,000 samples are drawn and zoomed without waiting", async () => {
  const page = await (await house.browser.newContext({ viewport: sizes.desk })).newPage();
  await page.goto(`${house.url}/p/half-an-hour/recordings/long/1`);
  await page.waitForFunction(() => document.querySelector("#traces output")?.textContent);
  const took = await page.evaluate(async () => {
    const { traces } = await import(document.querySelector('script[src*="traces.js"]').src);
    const root = document.getElementById("traces");
    const drawn = traces(root.querySelector("canvas"), async (a, b, n) => (await fetch(`${root.dataset.from}?columns=${n}` + (a === undefined ? "" : `&from=${a}&to=${b}`))).json());
    const median = (l) => l.sort((x, y) => x - y)[l.length / 2];
    const whole = [], near = [];
    for (let i = 0; i < 20; i++) {
      let at = performance.now();
      await drawn.show();
      whole.push(performance.now() - at);
      at = performance.now();
      await drawn.show(60 * i, 60 * i + 300);
      near.push(performance.now() - at);
    }
    return { whole: median(whole), near: median(near) };
  });
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
  const post = page.getByRole("slider", { name: "Begin of the run" });
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
