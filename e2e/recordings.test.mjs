// A recording that was found to be exchanged with another one: a person says whose it is,
// with the reason first, and takes it back.
import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { open, sizes } from "./desk.mjs";

let house;
before(async () => { house = await open(); });
after(async () => { await house?.close(); });

test("whose an exchanged recording is, is said by a person", async () => {
  const context = await house.browser.newContext({ viewport: sizes.desk });
  const page = await context.newPage();
  await page.goto(house.url + "/p/two-days/recordings"); // the whole demonstration, as tools/browser calls it
  const row = page.locator("tbody tr").filter({ hasText: "recordings may have been exchanged" }).first();
  await row.locator("th a").click();
  const doubted = await page.locator("h1").innerText();
  assert.match(doubted, /in doubt|a run of the log/);
  const own = await page.locator("tbody tr").first().locator("td").first().innerText();
  await page.getByLabel("Stint").selectOption({ value: own.split("/")[0] });
  await page.getByRole("button", { name: "It is of this stint" }).click();
  assert.equal(await page.locator("#reason:invalid").count(), 1, "without a reason nothing is sent");
  await page.getByLabel(/Reason/).fill("saved under the next name");
  await page.keyboard.press("Enter");
  await page.getByRole("heading", { name: "Said by a person" }).waitFor();
  assert.match(await page.locator("h1").innerText(), /none of them in doubt/);
  await page.getByRole("button", { name: /Take it back/ }).click();
  await page.getByLabel(/Reason/).waitFor();
  assert.equal(await page.locator("h1").innerText(), doubted);
  await context.close();
});
