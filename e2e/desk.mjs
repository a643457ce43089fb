// What every browser test needs: bookend serving a made-up programme on this
// machine, and Debian's Chromium.
//
// BOOKEND names the binary and BOOKEND_PROGRAMMES the folder of programmes; tools/browser
// makes both. BOOKEND_SHOTS is where pictures go; empty: none are kept.
import { spawn } from "node:child_process";
import { existsSync, mkdirSync, mkdtempSync, rmSync } from "node:fs";
import { createRequire } from "node:module";
import { tmpdir } from "node:os";
import { chromium } from "playwright-core";

const require = createRequire(import.meta.url);

export const axe = require.resolve("axe-core/axe.min.js");

// browserAt is where Debian and others put Chromium.
export const browserAt = [process.env.CHROMIUM, "/usr/bin/chromium", "/usr/bin/chromium-browser", "/usr/bin/google-chrome"].find((p) => p && existsSync(p));

// serve starts the server at an address; port 0 takes a free one.
export async function serve(address = "127.0.0.1:0") {
  const binary = process.env.BOOKEND;
  const programmes = process.env.BOOKEND_PROGRAMMES;
  if (!binary || !programmes) throw new Error("BOOKEND and BOOKEND_PROGRAMMES are not set: run tools/browser");
  const server = spawn(binary, ["serve", programmes, "--address", address], { stdio: ["ignore", "pipe", "inherit"] });
  const url = await new Promise((done, fail) => {
    let said = "";
    server.stdout.on("data", (b) => {
      said += b;
      const at = said.match(/http:\/\/[^\s/]+/);
      if (at) done(at[0]);
    });
    server.on("exit", (code) => fail(new Error(`bookend serve ended with ${code}: ${said}`)));
  });
  server.removeAllListeners("exit");
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
      server.kill("SIGINT");
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

// desk and tablet are the two sizes that every page is looked at in.
export const sizes = { desk: { width: 1440, height: 900 }, tablet: { width: 768, height: 1024 } };

// shoot keeps a picture of a whole page, where pictures are wanted.
export async function shoot(page, name) {
  const folder = process.env.BOOKEND_SHOTS;
  if (!folder) return;
  mkdirSync(folder, { recursive: true });
  await page.screenshot({ path: `${folder}/${name}.png`, fullPage: true });
}
