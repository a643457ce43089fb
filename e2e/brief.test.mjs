// The brief: a tyre's size answered while it is typed, by the same vectors as in Go; sets,
// vehicle and tests changed by keyboard and without a script; what is refused keeps what was
// typed. Forms open have no accessibility finding, in every theme and size.
import assert from "node:assert/strict";
import { readFileSync, writeFileSync } from "node:fs";
import { after, before, test } from "node:test";
import { across, audit, bookend, letAxeIn, open, shoot, sizes, themes, width, worn } from "./desk.mjs";
import { begun } from "./own.mjs";
import { asTyped } from "../web/script/part/tyre.js";

const at = "/p/brief-walk/brief";

let house, folder;
before(async () => {
  ({ folder } = begun("brief-walk", "--title", "Wet stops of two van tyres", "--question", "Which stops shorter?", "--client", "Tarn Valley Ambulance"));
  const stops = [["K", 32], ["P", 30.2], ["W", 34], ["K", 32.3], ["W", 34.4], ["P", 30.7], ["K", 32.7]];
  writeFileSync(`${folder}/stops.csv`, "stint,code,value\n" + stops.flatMap(([code, m], i) => [-0.1, 0, 0.1].map((d) => `${i + 1},${code},${(m + d).toFixed(1)}\n`)).join(""));
  bookend("import", `${folder}/stops.csv`, "--folder", folder, "--test", "wet-stop", "--better", "lower");
  house = await open();
});
after(async () => { await house?.close(); });

// opened gives a page of the brief, looked at in a theme, with or without scripts.
async function opened(path, how) {
  const page = await (await worn(house, how)).newPage();
  await page.goto(house.url + path);
  return page;
}

test("the page's list and script say what Go says of every vector", async () => {
  const page = await opened(at);
  const list = JSON.parse(await page.locator("#tyre-list").textContent());
  const vectors = JSON.parse(readFileSync(new URL("../tyre/testdata/typed.json", import.meta.url)));
  assert.ok(vectors.length >= 30);
  for (const v of vectors) {
    const said = asTyped(v.text, v.asked, list);
    assert.equal(said.wrong ?? "", v.wrong ?? "", v.name);
    if (v.size) assert.equal(said.size, v.size, v.name);
    if (v.findings) assert.deepEqual(said.findings.map((f) => [f.about, f.standing, f.text]), v.findings, v.name);
    if (v.standing) assert.deepEqual(said.findings.map((f) => f.standing), v.standing, v.name);
  }
  await page.context().close();
});

test("a size is answered while it is typed, and the server says the same", async () => {
  const page = await opened(at);
  const summary = page.locator("#set > summary");
  await summary.focus();
  await page.keyboard.press("Enter");
  await page.locator("#set-size").fill("205/65 R16C 107/105");
  await page.locator("#set-size-says", { hasText: "The load index has no speed symbol" }).waitFor();
  await page.locator("#set-size").press("T");
  await page.locator("#set-size-says", { hasText: "Load index 107: 975 kg a tyre" }).waitFor();
  assert.match(await page.locator("#set-size-says").innerText(), /The load on the rear axle is not told/);

  // The vehicle, typed above and not kept yet, is taken as it is typed.
  await page.locator("#words > summary").click();
  await page.locator("#words-rear_axle_kg").fill("1960,5");
  await page.locator("#words-top_speed_mps").fill("160");
  await page.locator("#set-size-says [data-standing=over]", { hasText: "980 kg on a tyre, load index 107 carries 975 kg" }).waitFor();
  await page.locator("#set-size-says [data-standing=within]", { hasText: "reaches 160 km/h" }).waitFor();
  await page.locator("#words-front_axle_kg").fill("1100");
  await page.locator("#set-size-says [data-standing=within]", { hasText: "front axle puts 550 kg" }).waitFor();
  await page.locator("#words button").click();
  await page.locator("tr", { hasText: "It asks of its tyres" }).getByText("rear axle 1960 kg").waitFor();

  // Added by keyboard alone.
  await page.locator("#set > summary").focus();
  await page.keyboard.press("Enter");
  await page.keyboard.press("Tab");
  for (const text of ["Z1", "Z", "205/65r16c 107/105t", "for the e2e test"]) {
    await page.keyboard.type(text);
    await page.keyboard.press("Tab");
  }
  await page.locator("#set-size-says [data-standing=over]").waitFor();
  const typed = await page.locator("#set-size-says li").allInnerTexts();
  await page.keyboard.press("Enter");
  const row = page.locator(".sets tbody tr", { hasText: "Z1" });
  await row.waitFor();
  assert.match(await row.innerText(), /205\/65 R16C 107\/105T/);
  await row.locator("a").click();
  assert.deepEqual(await page.locator("#set-size-says li").allInnerTexts(), typed);

  // The row follows the vehicle as it is typed: the script says what the server said.
  const cell = page.locator(".sets tbody tr", { hasText: "Z1" }).locator("[data-size]");
  const said = await cell.innerText();
  await page.locator("#words > summary").click();
  await page.locator("#words-rear_axle_kg").fill("1900");
  await cell.locator("[data-standing=within]").waitFor();
  await page.locator("#words-rear_axle_kg").fill("1960,5");
  await cell.locator("[data-standing=over]").waitFor();
  assert.equal(await cell.innerText(), said);

  await page.getByRole("button", { name: "Take set Z1 away" }).click();
  await page.locator("h1").waitFor();
  assert.equal(await page.locator(".sets tbody tr", { hasText: "Z1" }).count(), 0);
  await page.context().close();
});

test("without a script a set is added, refused with what was typed, put right and taken away", async () => {
  const page = await opened(at, { javaScriptEnabled: false });
  await page.locator("#set > summary").click();
  await page.locator("#set-name").fill("Y1");
  await page.locator("#set-code").fill("Y");
  await page.locator("#set-size").fill("205/65 R16C 107/105T Gripmaster");
  await page.locator("#set button.first").click();
  assert.match(await page.locator("h1").innerText(), /not understood/);
  assert.equal(await page.locator("#set-name").inputValue(), "Y1");
  assert.equal(await page.locator("#set-size").inputValue(), "205/65 R16C 107/105T Gripmaster");
  assert.equal(await page.locator("#set-size").getAttribute("aria-invalid"), "true");
  await page.locator("#set-size").fill("205/65 R16C 107/105T");
  await page.locator("#set button.first").click();
  const row = page.locator(".sets tbody tr", { hasText: "Y1" });
  assert.match(await row.innerText(), /Load index 107: 975 kg a tyre/);
  await row.locator("a").click();
  await page.getByRole("button", { name: "Take set Y1 away" }).click();
  assert.equal(await page.locator(".sets tbody tr", { hasText: "Y1" }).count(), 0);

  // A test: its procedure is chosen first, then its settings are there to be changed.
  await page.locator("summary", { hasText: "Begin a test" }).click();
  await page.locator("#procedure").selectOption("braking");
  await page.getByRole("button", { name: "Set it up" }).click();
  assert.equal(await page.locator("#test-p-from_speed").inputValue(), "80");
  await page.locator("#test-test").fill("dry-stop");
  await page.locator("#test-p-from_speed").fill("5000");
  await page.locator("#test button.first").click();
  assert.equal(await page.locator("#test-p-from_speed").getAttribute("aria-invalid"), "true");
  assert.equal(await page.locator("#test-test").inputValue(), "dry-stop");
  await page.context().close();
});

test("what is typed stays while something is entered elsewhere", async () => {
  const page = await opened(at);
  await page.locator("#set > summary").click();
  await page.locator("#set-note").fill("typed and not sent yet");
  await page.locator("#sets").click({ position: { x: 1, y: 1 } }); // the reader is elsewhere on the page
  bookend("brief", "--folder", folder, "--client", "Tarn Valley Ambulance, fleet");
  await page.locator("#news").waitFor();
  assert.equal(await page.locator("#set-note").inputValue(), "typed and not sent yet");

  // So does what was refused.
  await page.locator("#set-name").fill("Y1");
  await page.locator("#set-code").fill("Y 1");
  await page.locator("#set button.first").click();
  await page.getByRole("heading", { level: 1, name: /is no code/ }).waitFor();
  assert.equal(await page.evaluate(() => document.activeElement.id), "set-code");
  await page.locator("#sets").click({ position: { x: 1, y: 1 } });
  bookend("brief", "--folder", folder, "--client", "Tarn Valley Ambulance");
  await page.locator("#news").waitFor();
  assert.equal(await page.locator("#set-note").inputValue(), "typed and not sent yet");
  await page.context().close();
});

test("a plan is typed, looked through and frozen by keyboard, and then says what stands", async () => {
  const page = await opened(at, { javaScriptEnabled: false });
  const key = async (selector) => { for (let i = 0; i < 150 && !(await page.locator(selector).evaluate((e) => e === document.activeElement)); i++) await page.keyboard.press("Tab"); };
  await key("#plan-form > summary");
  await page.keyboard.press("Enter");
  await key("#plan-form-t0-first");
  await page.keyboard.type("v");
  await key("#plan-form-t0-margin");
  await page.keyboard.type("two");
  await page.keyboard.press("Enter");
  await page.getByRole("heading", { name: /Margin: "two" is no margin/ }).waitFor();
  assert.equal(await page.locator("#plan-form-t0-margin").inputValue(), "two");
  await page.locator("#plan-form-t0-margin").fill("2");
  await page.keyboard.press("Enter");
  await page.getByRole("heading", { level: 1, name: /as it would be frozen/ }).waitFor();
  await page.getByRole("button", { name: "Freeze this plan" }).press("Enter");
  await page.getByText("The plan is frozen: what follows stands").waitFor();
  assert.match(await page.locator("#plan tbody tr").first().innerText(), /2 index points/);
  await page.context().close();
});

test("the forms open, in every size and theme", async () => {
  const findings = [];
  const paths = { set: `${at}?set=none#set`, test: `${at}?procedure=lap#test`, held: `${at}?test=wet-stop#test`, limits: `${at}?limits=every-test#limits-form` };
  for (const [name, path] of Object.entries(paths)) {
    for (const [size, viewport] of Object.entries({ ...sizes, across })) {
      for (const theme of themes) {
        const page = await opened(path, { theme, viewport });
        const picture = `brief-${name}-${size}-${theme}`;
        await letAxeIn(page);
        await page.evaluate(() => { for (const d of document.querySelectorAll("details.opening")) d.open = true; });
        await page.locator("#set-size").fill("205/65 R16C 107/105T");
        await page.locator("#set-size-says [data-standing]").first().waitFor();
        findings.push(...[...(await width(page)), ...(await audit(page))].map((f) => `${picture}: ${f}`));
        await shoot(page, picture);
        await page.context().close();
      }
    }
  }
  assert.deepEqual(findings, []);
});
