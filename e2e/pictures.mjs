// Takes the pictures of docs/pictures: every page of the demonstration at desk and
// tablet size, as WebP. tools/pictures calls it.
//
// Usage: node pictures.mjs FOLDER. BOOKEND and BOOKEND_PROGRAMMES as for the tests:
// the folder of programmes holds tarn-valley, the demonstration, and a-day, whose run
// log is kept on a tablet.
import { mkdirSync, writeFileSync } from "node:fs";
import { across, laptop, leads, open } from "./desk.mjs";

const folder = process.argv[2];
mkdirSync(folder, { recursive: true });
const house = await open();
const sizes = { desk: laptop, tablet: across };
const base = "/p/tarn-valley";

const recording = await leads(house, `${base}/recordings`, "main tbody th a");
const pages = {
  programmes: "/",
  brief: `${base}/brief`,
  order: `${base}/order?stint-sd=0.8&run-sd=2&wanted=2.5&controls=5&runs=6&run-time=3&wheel=3&crew=2&warm-up=2&start=08:45&breaks=12:00-12:45`,
  anew: `${base}/order/anew?test=wet-stop&driven=K+P+R&candidates=P:2,R:2,T:2,W:2&controls=5&runs=6&stint-sd=0.8&run-sd=2&run-time=3&wheel=3&crew=2&start=11:20&reason=shower+at+10:55`,
  cones: `${base}/order/cones?test=lane-change`,
  day: "/p/a-day/day?test=wet-stop",
  recordings: `${base}/recordings`,
  recording,
  run: recording && (await leads(house, recording, "main tbody td a")),
  lines: await leads(house, `${base}/lines`, "main a[href*='/lines']") ?? `${base}/lines`,
  ratings: `${base}/ratings`,
  verdicts: `${base}/verdicts`,
  "verdicts-open": await leads(house, `${base}/verdicts`, ".mx tbody th[scope=row] a"),
  report: `${base}/report`,
};
for (const [name, at] of Object.entries(pages)) {
  if (!at) continue;
  for (const [size, viewport] of Object.entries(sizes)) {
    const context = await house.browser.newContext({ viewport });
    const page = await context.newPage();
    const answer = await page.goto(house.url + at);
    if (answer.ok()) {
      await page.evaluate(() => document.fonts.ready);
      await page.waitForTimeout(500); // what a script draws after that
      const chrome = await context.newCDPSession(page);
      const { data } = await chrome.send("Page.captureScreenshot", { format: "webp", quality: 60 });
      writeFileSync(`${folder}/${name}-${size}.webp`, Buffer.from(data, "base64"));
    } else console.error(`${name}: ${at} answers ${answer.status()}`);
    await context.close();
  }
}
await house.close();
