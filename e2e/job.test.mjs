// The whole job as its people do it: by keyboard alone from the list of programmes to
// the report; with two pages open that show each other's changes; with a laptop that
// is killed in the middle of the day; with a voice that is recorded without a network.
import assert from "node:assert/strict";
import { once } from "node:events";
import { after, before, test } from "node:test";
import { across, bookend, launch, open, serve, sizes, stop } from "./desk.mjs";
import { drive, fitted, logged, numbered } from "./own.mjs";

let house;
before(async () => { house = await open(); });
after(async () => { await house?.close(); });

const home = "/p/tarn-valley"; // as tools/browser calls it

// reach goes on with Tab until what has the focus fits, and holds every stop on the way
// to a focus that can be seen.
async function reach(page, what, fits) {
  const past = [];
  for (let i = 0; i < 400; i++) {
    await page.keyboard.press("Tab");
    const at = await page.evaluate(() => {
      const e = document.activeElement;
      if (!e || e === document.body) return null;
      const s = getComputedStyle(e);
      const label = e.closest("label")?.innerText ?? "";
      const box = e.getBoundingClientRect();
      return {
        text: (e.innerText || e.value || e.getAttribute("aria-label") || label).trim(), href: e.getAttribute("href") ?? "", id: e.id, tag: e.tagName,
        seen: (s.outlineStyle !== "none" && parseFloat(s.outlineWidth) >= 2) || s.boxShadow !== "none",
        inside: box.bottom > 0 && box.top < innerHeight && box.width > 0,
      };
    });
    if (!at) continue;
    past.push(`${at.tag} ${at.text}`);
    assert.ok(at.seen, `the focus cannot be seen on ${at.tag} ${at.text} ${at.href}`);
    assert.ok(at.inside, `the focus is out of sight on ${at.tag} ${at.text} ${at.href}`);
    if (fits(at)) return at;
  }
  assert.fail(`Tab does not reach ${what}; it passed ${past.slice(0, 40).join(", ")}`);
}

const heading = (page) => page.locator("h1").innerText();

test("the whole job by keyboard alone: programme, brief, recordings, a run left out, the verdicts without it, the report", async () => {
  const context = await house.browser.newContext({ viewport: sizes.desk });
  const page = await context.newPage();
  await page.goto(house.url + "/");
  const go = async (what, fits) => {
    await reach(page, what, fits);
    await Promise.all([page.waitForNavigation(), page.keyboard.press("Enter")]);
  };
  await go("the programme", (at) => at.href.startsWith(home));
  for (const step of ["Brief", "Order", "Day", "Recordings", "Lines", "Ratings", "Recordings"]) {
    await go(step, (at) => at.tag === "A" && at.text.startsWith(step));
    assert.ok(page.url().endsWith(`/${step.toLowerCase()}`), page.url());
    assert.ok((await heading(page)).length > 10);
  }
  await go("a recording", (at) => at.href.includes("/recordings/"));
  await go("one of its runs", (at) => at.href.includes("/runs/"));
  assert.match(await heading(page), /counts/);
  await reach(page, "the reason", (at) => at.id === "reason");
  await page.keyboard.type("traffic at the gate");
  await Promise.all([page.waitForNavigation(), page.keyboard.press("Enter")]);
  assert.match(await heading(page), /is left out: traffic at the gate/);
  await go("Verdicts", (at) => at.tag === "A" && at.text.startsWith("Verdicts"));
  const without = await page.locator(".mx").first().innerText();
  await go("a measure", (at) => at.href.includes("open="));
  await page.locator("figure svg, .full svg").first().waitFor();
  await go("Report", (at) => at.tag === "A" && at.text.startsWith("Report"));
  assert.match(await heading(page), /report/i);

  await page.goBack();
  await page.goBack();
  await page.goBack();
  assert.match(await heading(page), /is left out/);
  await go("taking it in again", (at) => at.tag === "BUTTON" && at.text === "Take it in again");
  assert.match(await heading(page), /counts/);
  await go("Verdicts", (at) => at.tag === "A" && at.text.startsWith("Verdicts"));
  assert.notEqual(await page.locator(".mx").first().innerText(), without);
  await context.close();
});

test("two open pages of one programme show each other's changes, and the command line's, without reload", async () => {
  const contexts = [await house.browser.newContext(), await house.browser.newContext()];
  const [one, two] = await Promise.all(contexts.map((c) => c.newPage()));
  await one.goto(house.url + home + "/recordings");
  const run = await (async () => {
    await one.locator("tbody th a").first().click();
    return new URL(await one.locator("main tbody td a").first().getAttribute("href"), one.url()).href;
  })();
  await one.goto(run);
  await two.goto(run);
  await two.evaluate(() => { globalThis.stayed = true; });
  await one.locator("#reason").fill("missed gear");
  await one.getByRole("button", { name: "Leave it out" }).click();
  await one.getByRole("heading", { name: /is left out: missed gear/ }).waitFor();
  await one.evaluate(() => { globalThis.stayed = true; });
  await two.getByRole("heading", { name: /is left out: missed gear/ }).waitFor({ timeout: 10_000 });
  assert.equal(await two.evaluate(() => globalThis.stayed), true);
  await Promise.all([two.waitForNavigation(), two.getByRole("button", { name: "Take it in again" }).click()]);
  await one.getByRole("heading", { name: /counts/ }).waitFor({ timeout: 10_000 });
  assert.equal(await one.evaluate(() => globalThis.stayed), true);

  // What is being typed is not taken away: there is a word of it instead.
  await one.locator("#reason").fill("half a rea");
  const [, , , test, id] = new URL(run).pathname.split("/").slice(1);
  bookend("exclude", decodeURIComponent(id), "--folder", `${process.env.BOOKEND_PROGRAMMES}/tarn-valley`, "--test", test, "--reason", "seen by the other");
  await two.getByRole("heading", { name: /is left out: seen by the other/ }).waitFor({ timeout: 10_000 });
  await one.getByText("Something was entered elsewhere").waitFor({ timeout: 10_000 });
  assert.equal(await one.locator("#reason").inputValue(), "half a rea");
  bookend("exclude", decodeURIComponent(id), "--folder", `${process.env.BOOKEND_PROGRAMMES}/tarn-valley`, "--test", test, "--back");
  for (const c of contexts) await c.close();
});

test("the laptop's server is killed in the middle of the day: the tablet goes on, and everything arrives once", async () => {
  const { folder, at } = fitted("killed");
  let { url, server } = await serve();
  const context = await house.browser.newContext({ viewport: sizes.tablet });
  const page = await context.newPage();
  await page.goto(url + at);
  await page.evaluate(() => navigator.serviceWorker.ready);
  await drive(page, 1, 5);
  await page.locator("#outbox", { hasText: "All entries sent" }).waitFor();
  const driving = drive(page, 6, 12);
  const ended = once(server, "exit");
  server.kill("SIGKILL"); // with entries under way
  await ended;
  await driving;
  await page.locator("#outbox", { hasText: /No network since/ }).waitFor({ timeout: 15_000 });
  await drive(page, 13, 15);
  ({ server } = await serve(new URL(url).host));
  await page.locator("#outbox", { hasText: "All entries sent" }).waitFor({ timeout: 30_000 });
  assert.deepEqual(logged(folder, "run").map((e) => e.body.run), numbered(15));
  assert.match(bookend("verify", "--folder", folder), /nothing has changed/);
  await context.close();
  await stop(server);
});

test("a voice is recorded without a network, kept on the device, sent with its remark, and heard beside it", async () => {
  const { folder, at } = fitted("voice");
  const { context, browser } = await launch(["--use-fake-device-for-media-stream", "--use-fake-ui-for-media-stream"]);
  await context.grantPermissions(["microphone"], { origin: house.url });
  const page = await context.newPage();
  await page.goto(house.url + at);
  await page.evaluate(() => navigator.serviceWorker.ready);
  await page.locator("#outbox", { hasText: "All entries sent" }).waitFor();
  await context.setOffline(true);
  await page.locator("#kind-remark summary").click();
  await page.getByRole("button", { name: "Record a voice" }).click();
  await page.getByRole("button", { name: "Stop recording" }).waitFor();
  await page.waitForTimeout(700);
  await page.getByRole("button", { name: "Stop recording" }).click();
  await page.getByText("The voice is kept").waitFor();
  await page.locator("form[data-kind=remark] [name=run]").fill("1");
  await page.locator("form[data-kind=remark] button.first").click();
  await page.locator("#outbox", { hasText: "1 entry kept here" }).waitFor();
  assert.equal(logged(folder, "remark").length, 0);
  await context.setOffline(false);
  await page.locator("#outbox", { hasText: "All entries sent" }).waitFor({ timeout: 20_000 });
  const [remark] = logged(folder, "remark");
  assert.match(remark.body.voice, /^[0-9a-f]{64}$/);
  await page.reload();
  const long = await page.locator("#lately audio").first().evaluate(async (audio) => {
    audio.muted = true;
    await audio.play();
    return new Promise((done) => { audio.ontimeupdate = () => { if (audio.currentTime > 0.1) done(audio.currentTime); }; });
  });
  assert.ok(long > 0);
  await browser.close();
});

test("an entry made by mistake is taken back without a network, and counts no longer once that is sent", async () => {
  const { folder, at } = fitted("taken-back");
  bookend("log", "remark", "--folder", folder, "--test", "lane-change", "--stint", "1", "--text", "the wrong tyre");
  const context = await house.browser.newContext({ viewport: sizes.tablet });
  const page = await context.newPage();
  await page.goto(house.url + at);
  await page.evaluate(() => navigator.serviceWorker.ready);
  await context.setOffline(true);
  await page.locator("#lately tr", { hasText: "the wrong tyre" }).getByRole("button", { name: /Take back/ }).click();
  await page.locator("#outbox", { hasText: "1 entry kept here" }).waitFor();
  assert.equal(logged(folder, "remark").length, 1);
  await context.setOffline(false);
  await page.locator("#outbox", { hasText: "All entries sent" }).waitFor({ timeout: 20_000 });
  assert.equal(logged(folder, "remark").length, 0);
  assert.equal(logged(folder, "remark", "--all").length, 1);
  await context.close();
});

test("on a tablet held across, the bar, the fitment and the run's form lie in sight without scrolling", async () => {
  const { at } = fitted("in-sight");
  const context = await house.browser.newContext({ viewport: across });
  const page = await context.newPage();
  await page.goto(house.url + at);
  await page.locator("#outbox", { hasText: "All entries sent" }).waitFor();
  for (const what of ["#outbox", ".fit", "form[data-kind=run] [name=entry_speed_mps]", "form[data-kind=run] [name=remark]", "form[data-kind=run] button.first"]) {
    const box = await page.locator(what).first().boundingBox();
    assert.ok(box && box.y >= 0 && box.y + box.height <= across.height, `${what} ends at ${box && box.y + box.height} px`);
  }
  await context.close();
});
