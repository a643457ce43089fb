// The page at the track: a day without a network loses nothing and sends nothing
// twice.
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { after, before, test } from "node:test";
import { across, audit, bookend, letAxeIn, open, shoot, sizes, worn } from "./desk.mjs";
import { drive, fitted, logged, numbered } from "./own.mjs";
import { answers } from "../web/script/part/limits.js";
import { fits, scaleOf } from "../web/script/part/scale.js";

let house;
before(async () => { house = await open(); });
after(async () => { await house?.close(); });

// begun makes a programme with a stint on the vehicle, and gives its folder and its day's page.
function begun(name) {
  const { folder, at } = fitted(name);
  return { folder, at: house.url + at };
}

// runs gives the entries of runs as the laptop keeps them, in its order.
const runs = (folder) => logged(folder, "run");

const unsent = (page) => page.evaluate(() => new Promise((done) => {
  const o = indexedDB.open("bookend", 1);
  o.onsuccess = () => { const q = o.result.transaction("entries").objectStore("entries").count(); q.onsuccess = () => { o.result.close(); done(q.result); }; };
}));

test("the script's limits answer as the laptop's do", () => {
  const vectors = JSON.parse(readFileSync(new URL("../programme/testdata/limits.json", import.meta.url)));
  assert.ok(vectors.length > 10);
  for (const v of vectors) assert.deepEqual(answers(v.limits, v.values).map((a) => a.standing), v.standing, v.name);
});

test("the script knows a rating as the laptop does", () => {
  const { scales, vectors } = JSON.parse(readFileSync(new URL("../programme/attribute/testdata/scales.json", import.meta.url)));
  assert.ok(vectors.length > 20);
  for (const v of vectors) assert.equal(fits(scaleOf(scales, v.attribute), v.value), v.rating, `${v.attribute} ${v.value}`);
});

test("a balance is rated from understeer to oversteer, and what is no rating is said before it is kept", async () => {
  const { folder, at } = begun("balance");
  const page = await (await house.browser.newContext({ viewport: sizes.tablet })).newPage();
  await page.goto(at);
  await page.locator("#kind-rating summary").click();
  const form = page.locator("form[data-kind=rating]");
  const value = form.locator("[name=value]");
  await form.locator("[name=rater]").fill("Ines");
  for (const [attribute, typed, scale, mode] of [["Balance at entry", "7", "\u22123 to +3", "text"], ["Response", "-1", "1 to 10", "decimal"]]) {
    await form.locator("[name=attribute]").fill(attribute);
    await value.fill(typed);
    await form.locator(".unit span", { hasText: scale }).waitFor();
    assert.equal(await value.getAttribute("inputmode"), mode);
    await form.locator(".answers.no", { hasText: `${typed} is no rating of ${attribute}` }).waitFor();
    await form.locator("button.first").click();
    assert.equal(await unsent(page), 0);
  }
  await form.locator("[name=attribute]").fill("Balance at entry");
  await value.fill("\u22121,5");
  assert.equal(await form.locator(".answers").textContent(), "");
  await form.locator("button.first").click();
  await page.locator("#outbox", { hasText: /All entries sent, / }).waitFor();
  const kept = logged(folder, "rating");
  assert.deepEqual(kept.map((e) => [e.body.attribute, e.body.value, e.body.rater]), [["Balance at entry", -1.5, "Ines"]]);
  await shoot(page, "day-balance-tablet");
});

test("200 entries without a network, the page loaded again, the clock an hour wrong: all arrive once, in order, with both times", async () => {
  const { folder, at } = begun("no-network");
  const context = await house.browser.newContext({ viewport: sizes.tablet });
  await context.addInitScript(() => { const now = Date.now.bind(Date); Date.now = () => now() + 3_600_000; });
  const page = await context.newPage();
  await page.goto(at);
  await page.evaluate(() => navigator.serviceWorker.ready);
  await page.locator("#outbox", { hasText: "All entries sent" }).waitFor();
  await page.waitForFunction(() => caches.keys().then((k) => k.length > 0));
  await page.reload();
  await drive(page, 1, 3);
  await page.locator("#outbox", { hasText: "All entries sent" }).waitFor();

  await context.setOffline(true);
  await drive(page, 4, 100);
  assert.equal(await unsent(page), 97);
  await page.locator("#outbox", { hasText: /No network since .* 97 entries kept here/ }).waitFor();
  await page.reload();
  await page.locator("#outbox", { hasText: /No network since .* 97 entries kept here/ }).waitFor();
  assert.equal(await page.locator("form[data-kind=run] [name=run]").inputValue(), "101");
  await drive(page, 101, 200);
  assert.equal(await unsent(page), 197);
  await shoot(page, "day-no-network-tablet");

  await context.setOffline(false);
  await page.locator("#outbox", { hasText: "All entries sent" }).waitFor({ timeout: 60_000 });
  assert.equal(await unsent(page), 0);
  const kept = runs(folder);
  assert.deepEqual(kept.map((e) => e.body.run), numbered(200));
  assert.equal(new Set(kept.map((e) => e.id)).size, 200);
  for (const e of kept) {
    const ahead = e.device_time.unix_ns / 1e9 - e.server_time.unix_ns / 1e9;
    assert.ok(ahead < 3601 && ahead > 3600 - 600, `${e.id}: the device is ${ahead} s ahead`);
  }
  await context.close();
});

test("the laptop dies in the middle, and answers are lost: nothing is lost, nothing twice", async () => {
  const { folder, at } = begun("lost-answers");
  const context = await house.browser.newContext({ viewport: sizes.tablet });
  const page = await context.newPage();
  // Every second entry arrives and its answer does not: the device offers it again.
  let n = 0;
  await page.route("**/day/outbox/*", async (route) => {
    n++;
    if (n % 2) {
      await route.fetch();
      await route.abort("connectionreset");
    } else if (n % 6 === 0) await route.fulfill({ status: 503, body: "" });
    else if (n % 14 === 0) await route.fulfill({ status: 401, body: "" });
    else await route.continue();
  });
  await page.goto(at);
  await drive(page, 1, 20);
  for (let i = 0; i < 200 && (await unsent(page)) > 0; i++) {
    await page.evaluate(() => dispatchEvent(new Event("online")));
    await page.waitForTimeout(50);
  }
  assert.equal(await unsent(page), 0);
  assert.deepEqual(runs(folder).map((e) => e.body.run), numbered(20));
  await context.close();
});

// apart opens the page on two tablets without a network, enters something on each, and
// brings them back one after the other.
async function apart(at, enter) {
  const pages = [];
  for (const speed of ["84", "86"]) {
    const page = await (await house.browser.newContext({ viewport: sizes.tablet })).newPage();
    await page.goto(at);
    await page.evaluate(() => navigator.serviceWorker.ready);
    await page.context().setOffline(true);
    await enter(page, speed);
    await page.locator("#outbox", { hasText: "1 entry kept here" }).waitFor();
    pages.push(page);
  }
  for (const page of pages) {
    await page.context().setOffline(false);
    await page.locator("#outbox", { hasText: "All entries sent" }).waitFor({ timeout: 20_000 });
  }
  return pages;
}

test("two tablets that wrote meanwhile keep both entries, and the clash is shown", async () => {
  const { folder, at } = begun("two-tablets");
  const tablets = await apart(at, async (page, speed) => {
    await page.locator("form[data-kind=run] [name=entry_speed_mps]").fill(speed);
    await page.locator("form[data-kind=run] button.first").click();
  });
  const [page] = tablets;
  await page.reload();
  await page.getByText("Two entries say different things").first().waitFor();
  const kept = logged(folder, "run", "--all");
  assert.equal(kept.length, 2);
  for (const p of tablets) await p.context().close();
});

// standing gives the runs that count, as [run, km/h, remark].
const standing = (folder) => runs(folder).map((e) => [e.body.run, Math.round(e.body.entry_speed_mps * 36000) / 10000, e.body.remark ?? ""]).sort();

// amend opens the correction of the latest row that holds a text, changes fields and enters it.
async function amend(page, text, changes) {
  await page.locator("#lately tr:not(.gone)", { hasText: text }).first().locator(".correct").click();
  const form = page.locator("#correct form");
  for (const [name, value] of Object.entries(changes)) await form.locator(`[name=${name}]`).fill(value);
  await form.locator("button.first").click();
}

test("one field of an entry is corrected: what stood before is kept, the rest stays to the last digit", async () => {
  const { folder, at } = begun("corrected");
  const page = await (await house.browser.newContext({ viewport: sizes.tablet })).newPage();
  await page.goto(at);
  await drive(page, 1, 2);
  await page.locator("#outbox", { hasText: "All entries sent" }).waitFor();
  await page.locator("#lately tr:not(.kept)", { hasText: "run 2" }).waitFor(); // what was sent is shown without loading the page again
  bookend("log", "run", "--folder", folder, "--test", "lane-change", "--stint", "1", "--run", "3", "--entry-speed", "23.456789012345678 m/s", "--remark", "gust");
  await page.reload();

  await page.locator("#lately tr", { hasText: "run 3" }).first().locator(".correct").click();
  const form = page.locator("#correct form");
  await page.locator("#correct h2", { hasText: "Correct the run of stint 1, run 3" }).waitFor();
  assert.equal(await form.locator("[name=entry_speed_mps]").inputValue(), "84.4444404444");
  await shoot(page, "day-correct-tablet");
  await form.locator("button.first").click();
  await form.locator(".answers.no", { hasText: "nothing is changed" }).waitFor();
  await form.locator("[name=entry_speed_mps]").fill("fast");
  await form.locator("button.first").click();
  await form.locator(".answers.no", { hasText: "fast is no number" }).waitFor();
  await form.locator("[name=entry_speed_mps]").fill("84.4444404444");
  await form.locator("[name=remark]").fill("no gust");
  await form.locator("button.first").click();
  await page.locator("#lately tr", { hasText: "corrected, before:" }).waitFor();
  assert.ok(await page.locator("#correct").isHidden());
  const third = runs(folder)[2];
  assert.equal(third.body.entry_speed_mps, 23.456789012345678);
  assert.equal(third.body.remark, "no gust");

  await amend(page, "run 2", { entry_speed_mps: "88,2" });
  await page.locator("#runs tr", { hasText: "88.2" }).waitFor();
  assert.deepEqual(standing(folder).slice(0, 2), [["1", 85.5, ""], ["2", 88.2, ""]]);
  const all = logged(folder, "run", "--all");
  assert.equal(all.length, 5); // three runs and two corrections: both sides are kept
  assert.equal(all.filter((e) => e.supersedes).length, 2);
  await shoot(page, "day-corrected-tablet");
});

test("entries are corrected without a network, those not sent yet, too, and twice", async () => {
  const { folder, at } = begun("corrected-offline");
  const context = await house.browser.newContext({ viewport: sizes.tablet });
  const page = await context.newPage();
  await page.goto(at);
  await page.evaluate(() => navigator.serviceWorker.ready);
  await page.waitForFunction(() => caches.keys().then((k) => k.length > 0));
  await drive(page, 1, 1);
  await page.locator("#lately tr:not(.kept)", { hasText: "run 1" }).waitFor();
  await context.setOffline(true);
  await drive(page, 2, 2);
  await page.locator("#outbox", { hasText: "1 entry kept here" }).waitFor();
  await amend(page, "run 1", { entry_speed_mps: "81" });
  await page.locator("#outbox", { hasText: "2 entries kept here" }).waitFor();
  await amend(page, "run 2", { entry_speed_mps: "82" });
  await page.locator("#outbox", { hasText: "3 entries kept here" }).waitFor();
  await page.reload();
  await page.locator("#outbox", { hasText: "3 entries kept here" }).waitFor();
  assert.equal(await page.locator("#lately tr.gone").count(), 2, "what was corrected is struck through, after a reload too");
  await amend(page, "run 2", { entry_speed_mps: "83", remark: "second thought" });
  await page.locator("#outbox", { hasText: "4 entries kept here" }).waitFor();
  assert.equal(await page.locator("form[data-kind=run] [name=run]").first().inputValue(), "3");
  await shoot(page, "day-correct-offline-tablet");
  await context.setOffline(false);
  await page.locator("#outbox", { hasText: "All entries sent" }).waitFor({ timeout: 20_000 });
  assert.deepEqual(standing(folder), [["1", 81, ""], ["2", 83, "second thought"]]);
  assert.ok(await page.locator("#clashes").isHidden());
  await context.close();
});

test("two tablets correct the same entry: both are kept and shown, the first counts until it is taken back", async () => {
  const { folder, at } = begun("corrected-twice");
  bookend("log", "run", "--folder", folder, "--test", "lane-change", "--stint", "1", "--run", "1", "--entry-speed", "85 km/h");
  const tablets = await apart(at, (page, speed) => amend(page, "run 1", { entry_speed_mps: speed }));
  assert.deepEqual(standing(folder), [["1", 84, ""]]);
  const [, page] = tablets;
  const clash = page.locator("#clashes .sides li");
  await page.locator("#clashes", { hasText: "The same run was corrected twice" }).waitFor();
  assert.equal(await clash.count(), 2);
  assert.match(await clash.nth(0).textContent(), /^counts: .*84/);
  assert.match(await clash.nth(1).textContent(), /^kept, does not count: .*86/);
  await shoot(page, "day-corrected-twice-tablet");
  await clash.nth(0).locator("button").click();
  await page.locator("#clashes").waitFor({ state: "hidden" });
  assert.deepEqual(standing(folder), [["1", 86, ""]]);
  for (const p of tablets) await p.context().close();
});

test("without a script an entry is corrected by a form of the page", async () => {
  const { folder, at } = begun("corrected-plain");
  bookend("log", "run", "--folder", folder, "--test", "lane-change", "--stint", "1", "--run", "1", "--entry-speed", "85 km/h", "--outside");
  const page = await (await house.browser.newContext({ viewport: sizes.desk, javaScriptEnabled: false })).newPage();
  await page.goto(at);
  await page.locator("#lately tr", { hasText: "run 1" }).locator(".correct").click();
  const form = page.locator("#correct form");
  assert.equal(await form.locator("[name=entry_speed_mps]").inputValue(), "85");
  assert.ok(await form.locator("[name=outside]").isChecked());
  await form.locator("[name=entry_speed_mps]").fill("87,5");
  await form.locator("[name=outside]").uncheck();
  await form.locator("button.first").click();
  await page.locator("#runs tr", { hasText: "87.5" }).waitFor();
  assert.deepEqual(standing(folder), [["1", 87.5, ""]]);
  assert.equal(runs(folder)[0].body.outside, undefined);
});

test("what is kept here can be saved as a file, and the laptop takes it", async () => {
  const { folder, at } = begun("saved-file");
  const context = await house.browser.newContext({ viewport: sizes.tablet, acceptDownloads: true });
  const page = await context.newPage();
  await page.goto(at);
  await page.evaluate(() => navigator.serviceWorker.ready);
  await context.setOffline(true);
  await drive(page, 1, 3);
  const [file] = await Promise.all([page.waitForEvent("download"), page.getByRole("button", { name: "Save what is kept here as a file" }).click()]);
  const path = `${folder}/outbox.jsonl`;
  await file.saveAs(path);
  assert.match(bookend("log", "take", path, "--folder", folder), /3 kept, 0 kept before, 0 refused/);
  await context.setOffline(false);
  await page.locator("#outbox", { hasText: "All entries sent" }).waitFor({ timeout: 20_000 });
  assert.equal(runs(folder).length, 3);
  await context.close();
});

test("a limit is answered while it is typed, without a network; entering all the same is possible", async () => {
  const { folder, at } = begun("typed-limit");
  const context = await house.browser.newContext({ viewport: sizes.tablet });
  const page = await context.newPage();
  await page.goto(at);
  await page.evaluate(() => navigator.serviceWorker.ready);
  await context.setOffline(true);
  await page.locator("#kind-conditions summary").click();
  const wind = page.locator("form[data-kind=conditions] [name=wind_mps]");
  await wind.fill("4,9");
  await page.locator("form[data-kind=conditions] .answers", { hasText: "within the limits" }).waitFor();
  await wind.fill("7.5");
  await page.getByRole("alert").filter({ hasText: "Do not drive: wind is 7.5 m/s, the limit is at most 5 m/s" }).waitFor();
  assert.equal(await wind.getAttribute("aria-invalid"), "true");
  await page.locator("form[data-kind=conditions] button.first").click();
  await page.locator("#outbox", { hasText: "1 entry kept here" }).waitFor();
  assert.equal(await wind.getAttribute("aria-invalid"), null);
  await wind.fill("8");
  await shoot(page, "day-limit-tablet");
  await wind.fill("");
  await context.setOffline(false);
  await page.locator("#outbox", { hasText: "All entries sent" }).waitFor({ timeout: 20_000 });
  const kept = logged(folder, "conditions");
  assert.equal(kept[0].body.wind_mps, 7.5);
  await context.close();
});

test("the day's page has no accessibility finding, targets of 48 px and contrast of 7:1 in the sun", async () => {
  const { at } = begun("seen");
  const findings = [];
  for (const [size, viewport] of Object.entries({ ...sizes, across })) {
    const context = await worn(house, { theme: "sunlight", viewport });
    const page = await context.newPage();
    await page.goto(at);
    await page.locator("#outbox").waitFor();
    await page.locator("#kind-incident summary").click();
    for (const target of await page.locator("main button:visible, main input:visible, main select:visible, main summary:visible, main a.do:visible").all()) {
      const box = await target.boundingBox();
      if (box && box.height < 48) findings.push(`${size}: a target of ${Math.round(box.height)} px: ${await target.evaluate((e) => e.outerHTML.slice(0, 80))}`);
    }
    await letAxeIn(page);
    findings.push(...(await audit(page, { tags: ["wcag2aaa"], rules: { "color-contrast-enhanced": { enabled: true } } })).map((f) => `${size}: ${f}`));
    await shoot(page, `day-${size}`);
    await context.close();
  }
  assert.deepEqual(findings, []);
});
