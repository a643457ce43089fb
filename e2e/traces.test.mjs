// Traces of a recording: drawn and zoomed in time, posts that are moved by keys, a move
// that is kept with its reason and taken back, nothing for axe to find.
import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { auditThemes, open, shoot, sizes, worn, wrongs } from "./desk.mjs";
import { begin, recording, rows, waits } from "./long.mjs";

let house;
before(async () => {
  recording(begin("half-an-hour"));
  house = await open();
});
after(async () => { await house?.close(); });

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
  const wrong = wrongs(page);
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
  assert.deepEqual(await auditThemes(page, "traces"), []);
  await page.getByRole("button", { name: "Take the move back" }).click();
  await page.getByRole("heading", { name: "Cuts that were moved" }).waitFor({ state: "detached" });
  assert.equal(await page.getByLabel("Begins at, s").inputValue(), begin);
  assert.deepEqual(wrong, []);
  await context.close();
});

test("every run's posts are in reach; the window goes along by hand, wheel and keys", async () => {
  const context = await worn(house, { theme: "paper.comma.speed-mph" });
  const page = await context.newPage();
  const wrong = wrongs(page);
  await page.goto(`${house.url}/p/two-days/recordings/slalom/1`);
  await page.locator("#traces[data-ready]").waitFor();
  const strips = page.locator("#traces .window"), output = page.locator("#traces output");
  const box = await strips.boundingBox();
  const whole = await output.textContent();
  assert.match(whole, /^0,00 s to \d+,\d\d s$/);
  const last = Number(whole.match(/to (\d+,\d+)/)[1].replace(",", "."));
  const px = (t) => box.x + 54 + ((box.width - 68) * t) / last; // between the edges that the page leaves
  const cuts = await page.locator("#piece option").evaluateAll((all) => all.map((o) => ({ value: o.value, name: o.textContent, begin: +o.dataset.begin, end: +o.dataset.end })));
  assert.ok(cuts.length > 2);
  // What lies between another run's posts chooses it, and so do the posts, which are dragged at once.
  const [, second, third] = cuts;
  await page.mouse.click(px((third.begin + third.end) / 2), box.y + 200);
  assert.equal(await page.locator("#piece").inputValue(), third.value);
  await page.getByRole("slider", { name: `End of ${third.name}` }).waitFor();
  await page.mouse.move(px(second.end), box.y + 300);
  await page.mouse.down();
  await page.mouse.move(px(second.end + 8), box.y + 300, { steps: 4 });
  await page.mouse.up();
  assert.equal(await page.locator("#piece").inputValue(), second.value);
  const moved = Number((await page.getByLabel("Ends at, s").inputValue()).replace(",", "."));
  assert.ok(Math.abs(moved - second.end - 8) < 1, `moved to ${moved}, from ${second.end} by 8 s`);
  assert.match(await page.locator("#moved-by").textContent(), new RegExp(`^Moved and not kept yet: ${second.name} end by \\+\\d+,\\d\\d s\\.$`));
  // What is not kept stays while another run is looked at.
  await page.locator("#piece").selectOption(third.value);
  await page.locator("#piece").selectOption(second.value);
  assert.equal(Number((await page.getByLabel("Ends at, s").inputValue()).replace(",", ".")), moved);
  // By keys, by hand and by wheel.
  const says = (before) => page.waitForFunction((b) => document.querySelector("#traces output").textContent !== b, before).then(() => output.textContent());
  await strips.focus();
  await page.keyboard.press("0");
  await page.waitForFunction((w) => document.querySelector("#traces output").textContent === w, whole);
  await page.keyboard.press("+");
  const near = await says(whole);
  await page.keyboard.press("ArrowRight");
  const along = await says(near);
  // Between posts, since a post would be taken.
  const [from, to] = [...along.matchAll(/\d+,\d+/g)].map((m) => Number(m[0].replace(",", ".")));
  const there = (t) => box.x + 54 + ((box.width - 68) * (t - from)) / (to - from);
  const posts = [...cuts.flatMap((c) => [c.begin, c.end]), moved].map(there);
  const free = Array.from({ length: 40 }, (_, i) => box.x + 200 + 15 * i).find((x) => posts.every((q) => Math.abs(q - x) > 40));
  await page.mouse.move(free, box.y + 120);
  await page.mouse.down();
  await page.mouse.move(free - 100, box.y + 120, { steps: 3 });
  await page.mouse.up();
  const dragged = await says(along);
  const begin = (text) => Number(text.match(/^(\d+,\d+)/)[1].replace(",", "."));
  assert.ok(begin(dragged) > begin(along), `${along}, dragged to the left: ${dragged}`);
  await page.mouse.wheel(0, -200);
  await says(dragged);
  await page.keyboard.press("Home");
  await page.waitForFunction(() => document.querySelector("#traces output").textContent.startsWith("0,00 s"));
  const speed = await page.evaluate(async () => (await (await fetch(`${document.getElementById("traces").dataset.from}?columns=50`)).json()).strips[0]);
  assert.deepEqual([speed.title, speed.unit], ["speed", "mph"]);
  assert.deepEqual(wrong, []);
  await shoot(page, "traces-runs");
  await context.close();
});
