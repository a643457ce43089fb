// Every page at desk and tablet size, in every theme: no accessibility finding
// (axe-core: WCAG 2.2 A and AA, best practice), nothing wider than the window, a
// heading that is an answer. Then what a person does there, by keyboard alone.
import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { axe, open, shoot, sizes } from "./desk.mjs";

let house;
before(async () => { house = await open(); });
after(async () => { await house?.close(); });

// pages of the made-up programme, by name.
async function pages() {
  const page = await house.browser.newPage();
  const base = "/p/tarn-valley"; // as tools/browser calls it
  const to = async (at, selector) => {
    await page.goto(house.url + at);
    return new URL(await page.locator(selector).first().getAttribute("href"), house.url + at).href.slice(house.url.length);
  };
  const recording = await to(base + "/recordings", "tbody th a");
  const out = {
    programmes: "/",
    brief: base + "/brief",
    order: base + "/order?stint-sd=0.8&wanted=2&run-time=6",
    "order-none": base + "/order",
    "order-driven": base + "/order?control=K&candidates=P:2,R:2&controls=3&runs=6&stint_sd=0.8&run_time=4&seed=7",
    recordings: base + "/recordings",
    recording,
    run: await to(recording, "tbody td a"),
    lines: "/p/two-days/lines?test=dry-lap",
    "lines-none": base + "/lines",
    ratings: "/p/two-days/ratings",
    "ratings-none": base + "/ratings",
    verdicts: base + "/verdicts",
    "verdicts-open": await to(base + "/verdicts", ".mx tbody th[scope=row] a"),
    "verdicts-many": "/p/two-days/verdicts?open=t1m2", // a measure that describes, below the table
    report: base + "/report",
    trouble: base + "/runs/none/none",
  };
  await page.close();
  return out;
}

test("every page, in every size and theme", async () => {
  const findings = [];
  for (const [name, at] of Object.entries(await pages())) {
    for (const [size, viewport] of Object.entries(sizes)) {
      for (const theme of size === "desk" ? ["paper", "dark", "sunlight"] : ["paper"]) {
        const context = await house.browser.newContext({ viewport });
        await context.addCookies([{ name: "look", value: theme, url: house.url }]);
        const page = await context.newPage();
        const errors = [];
        page.on("pageerror", (e) => errors.push(String(e)));
        page.on("console", (m) => { if (m.type() === "error" && name !== "trouble") errors.push(m.text()); });
        await page.goto(house.url + at);
        await page.evaluate(() => document.fonts.ready);
        const where = `${name}, ${size}, ${theme}`;
        const wide = await page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth);
        if (wide > 0) findings.push(`${where}: ${wide} px wider than the window`);
        const heading = (await page.locator("h1").innerText()).trim();
        if (heading.length < 10) findings.push(`${where}: the heading ${JSON.stringify(heading)} is no answer`);
        // The pages' own policy forbids any script but theirs: it is lifted to bring axe in, once the page has been seen under it.
        await (await context.newCDPSession(page)).send("Page.setBypassCSP", { enabled: true });
        await page.reload();
        await page.addScriptTag({ path: axe });
        const result = await page.evaluate(() => globalThis.axe.run(document, { runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"] }));
        assert.ok(result.passes.length > 10, `${where}: axe looked at nothing`);
        for (const v of result.violations) findings.push(`${where}: ${v.id}: ${v.help}: ${v.nodes.slice(0, 3).map((n) => n.target.join(" ")).join("; ")}`);
        findings.push(...errors.map((e) => `${where}: ${e}`));
        if (theme !== "sunlight") await shoot(page, `${name}-${size}${theme === "dark" ? "-dark" : ""}`);
        await context.close();
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
