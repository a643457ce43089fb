// What every browser test needs: bookend serving a made-up programme on this
// machine, and Debian's Chromium.
//
// BOOKEND names the binary and BOOKEND_PROGRAMMES the folder of programmes; tools/browser
// makes both. BOOKEND_SHOTS is where pictures go; empty: none are kept.
import assert from "node:assert/strict";
import { execFileSync, spawn } from "node:child_process";
import { once } from "node:events";
import { existsSync, mkdirSync, mkdtempSync, rmSync } from "node:fs";
import { createRequire } from "node:module";
import { tmpdir } from "node:os";
import { chromium } from "playwright-core";

const require = createRequire(import.meta.url);

const axe = require.resolve("axe-core/axe.min.js");

// browserAt is where Debian and others put Chromium.
export const browserAt = [process.env.CHROMIUM, "/usr/bin/chromium", "/usr/bin/chromium-browser", "/usr/bin/google-chrome"].find((p) => p && existsSync(p));

// bookend runs the command line and gives what it prints.
export const bookend = (...words) => execFileSync(process.env.BOOKEND, words, { encoding: "utf8", stdio: ["ignore", "pipe", "pipe"] });

// listening starts the server of a folder of programmes and waits for the address that fits.
export async function listening(programmes, fits, { address = "127.0.0.1:0", more = [] } = {}) {
  const server = spawn(process.env.BOOKEND, ["serve", programmes, "--address", address, ...more], { stdio: ["ignore", "pipe", "inherit"] });
  const url = await new Promise((done, fail) => {
    let said = "";
    server.stdout.on("data", (b) => {
      said += b;
      const at = said.match(fits);
      if (at) done(at[0]);
    });
    server.on("exit", (code) => fail(new Error(`bookend serve ended with ${code}: ${said}`)));
  });
  server.removeAllListeners("exit");
  return { url, server };
}

// stop ends a server and waits until it has closed its programmes.
export async function stop(server) {
  if (server.exitCode !== null || server.signalCode !== null) return;
  const ended = once(server, "exit");
  server.kill("SIGINT");
  await ended;
}

// serve starts the server of the programmes; without an address it takes a free port.
export async function serve(address) {
  const { BOOKEND: binary, BOOKEND_PROGRAMMES: programmes } = process.env;
  if (!binary || !programmes) throw new Error("BOOKEND and BOOKEND_PROGRAMMES are not set: run tools/browser");
  const { url, server } = await listening(programmes, /http:\/\/[^\s/]+/, { address });
  // A page whose recordings are not reduced yet says so first; walks begin with programmes that are put together.
  const list = await (await fetch(url + "/")).text();
  for (const at of new Set([...list.matchAll(/href="(\/p\/[^"\/]+)\/"/g)].map((m) => m[1]))) await (await fetch(url + at + "/verdicts")).text();
  return { url, server };
}

// open starts the server and the browser.
export async function open() {
  if (!browserAt) throw new Error("there is no Chromium: install Debian's package chromium, or name another with CHROMIUM");
  const { url, server } = await serve();
  const browser = await chromium.launch({ executablePath: browserAt, args: ["--no-sandbox", "--disable-gpu"] });
  return {
    url,
    browser,
    async close() {
      await browser.close();
      await stop(server);
    },
  };
}

// launch starts a browser of its own, with a profile that it forgets.
export async function launch(args) {
  if (!browserAt) throw new Error("there is no Chromium: install Debian's package chromium, or name another with CHROMIUM");
  const profile = mkdtempSync(`${tmpdir()}/bookend-`);
  const context = await chromium.launchPersistentContext(profile, { executablePath: browserAt, args: ["--no-sandbox", "--disable-gpu", ...args] });
  return {
    context,
    browser: {
      async close() {
        await context.close();
        rmSync(profile, { recursive: true, force: true });
      },
    },
  };
}

// desk and tablet are the two sizes that every page is looked at in; across is a tablet held so.
export const sizes = { desk: { width: 1440, height: 900 }, tablet: { width: 768, height: 1024 } };
export const across = { width: 1024, height: 768 };
// laptop is the smallest desk, and what pictures are taken in beside a tablet held across.
export const laptop = { width: 1280, height: 800 };

export const themes = ["paper", "dark", "sunlight"];

// leads gives where the first link that is matched leads, from a page that there is; undefined
// where none is.
export async function leads(house, at, selector) {
  const page = await house.browser.newPage();
  await page.goto(house.url + at);
  const link = page.locator(selector).first();
  const to = (await link.count()) ? new URL(await link.getAttribute("href"), page.url()) : undefined;
  await page.close();
  return to && to.pathname + to.search + to.hash;
}

// worn opens a browser's context in a size, a theme and whatever else it is told.
export async function worn(house, { theme = "paper", viewport = sizes.desk, ...more } = {}) {
  const context = await house.browser.newContext({ viewport, ...more });
  await context.addCookies([{ name: "look", value: theme, url: house.url }]);
  return context;
}

// wrongs gathers what a page's scripts throw and what the browser says is wrong, from now on.
export function wrongs(page) {
  const out = [];
  page.on("pageerror", (e) => out.push(String(e)));
  page.on("console", (m) => { if (m.type() === "error" && !m.location().url.endsWith("favicon.ico")) out.push(m.text()); });
  return out;
}

// width says whether a page is wider than its window.
export async function width(page) {
  const over = await page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth);
  return over > 0 ? [`${over} px wider than the window`] : [];
}

// letAxeIn loads a page again without its own policy, which forbids any script but the page's.
export async function letAxeIn(page) {
  await (await page.context().newCDPSession(page)).send("Page.setBypassCSP", { enabled: true });
  await page.reload();
}

// audit gives what axe finds on a page that lets it in: WCAG 2.2 A and AA and best practice,
// and what is asked for on top.
export async function audit(page, { tags = [], rules = {} } = {}) {
  await page.addScriptTag({ path: axe });
  const asked = { runOnly: { type: "tag", values: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice", ...tags] }, rules };
  const result = await page.evaluate((asked) => globalThis.axe.run(document, asked), asked);
  assert.ok(result.passes.length > 10, "axe looked at nothing");
  return result.violations.map((v) => `${v.id}: ${v.help}: ${v.nodes.slice(0, 3).map((n) => n.target.join(" ")).join("; ")}`);
}

// auditThemes changes a page that is open from theme to theme; what is drawn is drawn anew.
export async function auditThemes(page, name) {
  const findings = [];
  for (const theme of themes) {
    await page.evaluate((t) => { document.documentElement.dataset.theme = t; dispatchEvent(new Event("resize")); }, theme);
    findings.push(...(await audit(page)).map((f) => `${theme}: ${f}`));
    await shoot(page, `${name}-${theme}`);
  }
  return findings;
}

// seen opens a page, does what comes first there, and gives what is wrong with it: scripts that
// fail, width, a heading that is no answer, what axe finds. A page that refuses says so to the
// browser, too.
export async function seen(house, at, { viewport, theme, refused = false, first = async () => {}, picture }) {
  const context = await worn(house, { viewport, theme });
  const page = await context.newPage();
  const wrong = wrongs(page);
  await page.goto(house.url + at);
  await first(page);
  await page.evaluate(() => document.fonts.ready);
  const findings = await width(page);
  const heading = (await page.locator("h1").innerText()).trim();
  if (heading.length < 10) findings.push(`the heading ${JSON.stringify(heading)} is no answer`);
  await letAxeIn(page);
  findings.push(...(await audit(page)));
  if (!refused) findings.push(...wrong);
  await shoot(page, picture);
  await context.close();
  return findings;
}

// shoot keeps a picture of a whole page, where pictures are wanted.
export async function shoot(page, name) {
  const folder = process.env.BOOKEND_SHOTS;
  if (!folder) return;
  mkdirSync(folder, { recursive: true });
  await page.screenshot({ path: `${folder}/${name}.png`, fullPage: true });
}
