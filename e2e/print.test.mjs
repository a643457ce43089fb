// The report as it prints: the first page is one sheet of A4 and of Letter, and no table
// of the appendix is wider than its column or the sheet.
import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { open } from "./desk.mjs";

let house;
before(async () => { house = await open(); });
after(async () => { await house?.close(); });

const mm = 96 / 25.4;
const margins = { aside: 40, above: 29 }; // of page.css, in mm
const sheets = { A4: { width: 210, height: 297 }, Letter: { width: 215.9, height: 279.4 } };

test("the report fits its sheets", async () => {
  const findings = [];
  for (const programme of ["tarn-valley", "two-days"]) {
    for (const [name, sheet] of Object.entries(sheets)) {
      const width = Math.floor((sheet.width - margins.aside) * mm);
      const page = await house.browser.newPage({ viewport: { width, height: 1000 } });
      await page.goto(`${house.url}/p/${programme}/report/whole`);
      await page.emulateMedia({ media: "print" });
      await page.evaluate(() => document.fonts.ready);
      const front = await page.evaluate(() => document.querySelector(".front").getBoundingClientRect().height);
      if (front > (sheet.height - margins.above) * mm) findings.push(`${programme}, ${name}: the first page is ${Math.round(front / mm)} mm high`);
      const wide = await page.evaluate((width) => [...document.querySelectorAll("section .wide")].flatMap((box) => {
        const table = box.querySelector("table"), room = box.classList.contains("narrow") && box.closest(".behind") ? (width - 6 * 96 / 25.4) / 2 : width;
        const wide = Math.max(...[...table.getClientRects()].map((r) => r.width)); // a piece a column
        return wide > room + 1 ? [`${table.id}: ${Math.round(wide)} px in ${Math.round(room)}`] : [];
      }), width);
      findings.push(...wide.map((w) => `${programme}, ${name}: ${w}`));
      await page.close();
    }
  }
  assert.deepEqual(findings, []);
});
