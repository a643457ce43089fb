// Every page at desk and tablet size, in every theme: no accessibility finding
// (axe-core: WCAG 2.2 A and AA, best practice), nothing wider than the window, a
// heading that is an answer. Then what a person does there, by keyboard alone.
import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { leads, open, seen, sizes, themes } from "./desk.mjs";

let house;
before(async () => { house = await open(); });
after(async () => { await house?.close(); });

// pages of the made-up programme, by name.
async function pages() {
  const base = "/p/tarn-valley"; // as tools/browser calls it
  const recording = await leads(house, base + "/recordings", "tbody th a");
  return {
    programmes: "/",
    brief: base + "/brief",
    order: base + "/order?stint-sd=0.8&wanted=2&run-time=6",
    "order-none": base + "/order",
    "order-driven": base + "/order?control=K&candidates=P:2,R:2&controls=3&runs=6&stint_sd=0.8&run_time=4&seed=7",
    recordings: base + "/recordings",
    recording,
    run: await leads(house, recording, "tbody td a"),
    lines: "/p/two-days/lines?test=dry-lap",
    "lines-none": base + "/lines",
    ratings: "/p/two-days/ratings",
    "ratings-none": base + "/ratings",
    verdicts: base + "/verdicts",
    "verdicts-open": await leads(house, base + "/verdicts", ".mx tbody th[scope=row] a"),
    "verdicts-many": "/p/two-days/verdicts?open=t1m2", // a measure that describes, below the table
    report: base + "/report",
    trouble: base + "/runs/none/none",
  };
}

test("every page, in every size and theme", async () => {
  const findings = [];
  for (const [name, at] of Object.entries(await pages())) {
    for (const [size, viewport] of Object.entries(sizes)) {
      for (const theme of size === "desk" ? themes : ["paper"]) {
        const picture = `${name}-${size}-${theme}`;
        const found = await seen(house, at, { viewport, theme, refused: name === "trouble", picture });
        findings.push(...found.map((f) => `${picture}: ${f}`));
      }
    }
  }
  assert.deepEqual(findings, []);
});

test("a run is left out by keyboard, and another open page follows without reload", async () => {
  const { run, verdicts } = await pages();
  const context = await house.browser.newContext({ viewport: sizes.desk });
  const watching = await context.newPage();
  await watching.goto(house.url + verdicts);
  await watching.evaluate(() => { globalThis.stayed = true; });
  const before = await watching.locator(".mx").first().innerText();

  const page = await context.newPage();
  await page.goto(house.url + run);
  await page.keyboard.press("Tab");
  assert.equal(await page.evaluate(() => document.activeElement.className), "skip");
  for (let i = 0; i < 60 && (await page.evaluate(() => document.activeElement.id)) !== "reason"; i++) await page.keyboard.press("Tab");
  await page.keyboard.type("traffic at the gate");
  await page.keyboard.press("Enter");
  await page.getByRole("heading", { name: /is left out: traffic at the gate/ }).waitFor();

  await watching.waitForFunction((was) => document.querySelector(".mx").innerText !== was, before, { timeout: 10_000 });
  assert.equal(await watching.evaluate(() => globalThis.stayed), true);

  await page.getByRole("button", { name: "Take it in again" }).click();
  await page.getByRole("heading", { name: /counts/ }).waitFor();
  await watching.waitForFunction((was) => document.querySelector(".mx").innerText === was, before, { timeout: 10_000 });
  await context.close();
});
