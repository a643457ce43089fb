// The order and the pages beside it: no accessibility finding in any theme, nothing wider
// than the window; a stint is dragged, in the table and in the drawing, with its price at
// once, and moved by keys; all of it works without a script.
import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { across, laptop, open, seen, themes } from "./desk.mjs";

let house;
before(async () => { house = await open(); });
after(async () => { await house?.close(); });

const base = "/p/two-days"; // as tools/browser calls it
const order = base + "/order?control=K&candidates=P:2,R:2,T:2&controls=3&runs=4&stint_sd=0.8&run_time=6&start=08:30&seed=7";
const sizes = { desk: laptop, tablet: across };
const anew = base + "/order/anew?test=wet-stop&driven=K+P+R&control=K&candidates=P:2,R:2,T:2&controls=3&runs=4&stint_sd=0.8&run_time=6&start=11:40&reason=shower+at+11:20";
const pages = {
  "order-loaded": order + "&speed=130&sizes=205/55+R16+91V&axles=front:+900+kg:+230+kPa&wear_most=2&wear_run=0.1",
  "order-own": order + "&own=K+P+R+T+K+T+P+R+K",
  "order-refused": order.replace("stint_sd=0.8", "stint_sd=much"),
  "order-bring": order,
  cones: base + "/order/cones?test=lane-change",
  "cones-slalom": base + "/order/cones?layout=slalom&width=1.8&at=57.1,-4.5&heading=92",
  "cones-refused": base + "/order/cones?layout=slalom&width=wide",
  anew,
  "anew-begun": base + "/order/anew?test=wet-stop",
  "anew-refused": anew.replace(/reason=.*/, "reason="),
  advice: base + "/order/advice?test=wet-stop",
  sheet: order.replace("/order?", "/order/sheet?"),
  interim: base + "/interim?test=wet-stop",
  "interim-seen": base + "/interim?test=wet-stop&look=yes",
};

const codes = (page) => page.locator("#chosen").evaluate((e) => e.dataset.sequence);

test("every page about the order, in every size and theme", async () => {
  const findings = [];
  const looking = await house.browser.newPage();
  await looking.goto(house.url + pages.interim);
  await looking.getByRole("button", { name: /Look, and have it logged|Look again/ }).click();
  await looking.locator("h1").filter({ hasText: "Interim, after" }).waitFor();
  await looking.close();
  for (const [name, at] of Object.entries(pages)) {
    for (const [size, viewport] of Object.entries(sizes)) {
      for (const theme of size === "desk" ? themes : ["sunlight"]) {
        const picture = `${name}-${size}-${theme}`, refused = name.endsWith("-refused");
        const first = async (page) => {
          if (name === "order-bring") await page.locator("#bring > summary").click();
          if (refused) assert.equal(await page.locator("[aria-invalid=true]").count(), 1, `${picture}: one field is marked`);
        };
        const found = await seen(house, at, { viewport, theme, refused, first, picture });
        findings.push(...found.map((f) => `${picture}: ${f}`));
      }
    }
  }
  assert.deepEqual(findings, []);
});

test("a stint is dragged in the table: its price stands beside the pointer, and where it is dropped it stays", async () => {
  const page = await house.browser.newPage({ viewport: sizes.desk });
  await page.goto(house.url + order);
  const drawn = await codes(page);
  const list = drawn.split(" ");
  const from = list.findIndex((c) => c !== "K");
  const to = list.findLastIndex((c) => c !== "K" && c !== list[from]);
  const grip = (at) => page.locator(`tr[data-at="${at}"] .grip`);
  await grip(from).scrollIntoViewIfNeeded();
  const a = await grip(from).boundingBox();
  const b = await grip(to).boundingBox();
  await page.mouse.move(a.x + a.width / 2, a.y + a.height / 2);
  await page.mouse.down();
  await page.mouse.move(b.x + b.width / 2, b.y + b.height / 2, { steps: 12 });
  const tag = page.locator(".dragging");
  await tag.filter({ hasText: "index points" }).waitFor();
  const price = (await tag.innerText()).trim();
  assert.match(price, /It shows .* index points; .* as good/);

  await page.keyboard.press("Escape");
  await tag.waitFor({ state: "detached" });
  await page.mouse.up();
  assert.equal(await codes(page), drawn, "Escape lets it stand where it was");

  await page.mouse.move(a.x + a.width / 2, a.y + a.height / 2);
  await page.mouse.down();
  await page.mouse.move(b.x + b.width / 2, b.y + b.height / 2, { steps: 12 });
  await page.mouse.up();
  const wanted = [...list];
  wanted.splice(to, 0, ...wanted.splice(from, 1));
  await page.waitForFunction((was) => document.getElementById("chosen").dataset.sequence !== was, drawn);
  assert.equal(await codes(page), wanted.join(" "));
  assert.equal((await page.locator("#price").innerText()).trim(), price);
  assert.match(page.url(), /own=/);

  // The address is that of the order moved, and going back is the order drawn.
  await page.goBack();
  await page.waitForFunction((was) => document.getElementById("chosen").dataset.sequence === was, drawn);
  await page.close();
});

test("a stint is dragged in the drawing", async () => {
  const context = await house.browser.newContext({ viewport: sizes.tablet, hasTouch: true });
  const page = await context.newPage();
  await page.goto(house.url + order);
  const drawn = await codes(page);
  const list = drawn.split(" ");
  const from = list.findIndex((c) => c !== "K");
  const box = async (at) => {
    const r = await page.locator(`#chosen svg [data-at="${at}"]`).boundingBox();
    return [r.x + r.width / 2, r.y + r.height / 2];
  };
  await page.mouse.move(...(await box(from)));
  await page.mouse.down();
  await page.mouse.move(...(await box(from + 1)), { steps: 8 });
  await page.locator(".dragging").filter({ hasText: "Criterion" }).waitFor();
  await page.mouse.up();
  await page.waitForFunction((was) => document.getElementById("chosen").dataset.sequence !== was, drawn);
  const wanted = [...list];
  wanted.splice(from + 1, 0, ...wanted.splice(from, 1));
  assert.equal(await codes(page), wanted.join(" "));
  const small = await page.locator(".grip, td.tools a").evaluateAll((all) => all.filter((e) => e.getBoundingClientRect().height < 44).length);
  assert.equal(small, 0, "targets on a tablet");
  await context.close();
});

test("a stint is moved by keys alone, and the focus goes with it", async () => {
  const page = await house.browser.newPage({ viewport: sizes.desk });
  await page.goto(house.url + order);
  const list = (await codes(page)).split(" ");
  for (let i = 0; i < 120 && !(await page.evaluate(() => document.activeElement.className === "grip" && document.activeElement.closest("tr").dataset.at === "1")); i++) await page.keyboard.press("Tab");
  await page.keyboard.press("ArrowDown");
  await page.waitForFunction(() => document.activeElement.className === "grip" && document.activeElement.closest("tr").dataset.at === "2");
  assert.equal((await codes(page)).split(" ")[2], list[1]);
  await page.waitForFunction(() => document.getElementById("price").textContent.includes("Criterion"));
  await page.keyboard.press("ArrowUp");
  await page.waitForFunction((was) => document.getElementById("chosen").dataset.sequence === was, list.join(" "));
  // The links beside it do the same, and keep the focus too.
  await page.locator('tr[data-at="1"] a[data-by="1"]').focus();
  await page.keyboard.press("Enter");
  await page.waitForFunction(() => document.activeElement.dataset.by === "1" && document.activeElement.closest("tr").dataset.at === "2");
  await page.close();
});

test("what is entered elsewhere leaves the order to be moved", async () => {
  const context = await house.browser.newContext({ viewport: sizes.desk });
  const page = await context.newPage();
  await page.goto(house.url + order);
  const list = (await codes(page)).split(" ");
  const other = await context.newPage();
  await other.goto(house.url + order.replace("seed=7", `seed=${Date.now() % 1e9}`));
  await other.getByLabel("For the test").fill("wet-stop");
  await other.getByRole("button", { name: "Take this order" }).click();
  await other.locator("#taken").waitFor();
  await page.locator("#taken").waitFor({ timeout: 15_000 });
  await page.locator('tr[data-at="1"] .grip').focus();
  await page.keyboard.press("ArrowDown");
  await page.waitForFunction(() => document.activeElement.className === "grip" && document.activeElement.closest("tr").dataset.at === "2");
  assert.equal((await codes(page)).split(" ")[2], list[1]);
  await context.close();
});

test("without a script the order is moved, the rest planned anew, cones laid out and advice asked", async () => {
  const context = await house.browser.newContext({ viewport: sizes.desk, javaScriptEnabled: false });
  const page = await context.newPage();
  await page.goto(house.url + order);
  await page.locator('tr[data-at="1"] a[data-by="1"]').click();
  await page.getByText("the order drawn shows").waitFor();
  assert.equal(await page.locator(".grip").count(), 0);

  await page.goto(house.url + base + "/order/anew?test=wet-stop");
  await page.getByLabel("Driven so far").fill("K P R");
  await page.getByLabel("Reason").fill("a set is lost");
  await page.getByRole("button", { name: "Plan the rest" }).click();
  await page.locator("h1").filter({ hasText: "3 stints driven" }).waitFor();
  assert.equal(await page.getByLabel("Reason").inputValue(), "a set is lost");

  await page.goto(house.url + base + "/order/cones");
  await page.getByLabel("Width of the vehicle").fill("1,8");
  await page.keyboard.press("Enter");
  await page.locator("h1").filter({ hasText: "cones over" }).waitFor();

  await page.goto(house.url + base + "/order/advice?test=wet-stop");
  await page.getByLabel("Stints that there is time for").fill("1");
  await page.keyboard.press("Enter");
  await page.locator("h1").filter({ hasText: "No further stint" }).waitFor();
  await context.close();
});
