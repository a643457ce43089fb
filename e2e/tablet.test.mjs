// A tablet that calls the laptop by a name: over HTTPS with the laptop's own
// authority, and over plain HTTP, where the page says what is missing and loses
// nothing all the same. Traffic stays on loopback; Chromium is told that the name
// leads there.
import assert from "node:assert/strict";
import { createHash, X509Certificate } from "node:crypto";
import { mkdirSync, readFileSync, rmSync } from "node:fs";
import { execFileSync } from "node:child_process";
import { after, before, test } from "node:test";
import { bookend, launch, listening, shoot, sizes, stop } from "./desk.mjs";
import { drive, logged, numbered, passing } from "./own.mjs";

const name = "laptop.test";
const folder = passing(`${process.env.BOOKEND_PROGRAMMES}-tablet`);
const programme = `${folder}/wet`;
const servers = [];

// serve starts the laptop's server, which is called by its name.
async function serve(...more) {
  const { url, server } = await listening(folder, /https?:\/\/laptop\.test:\d+/, { more: ["--name", name, ...more] });
  servers.push(server);
  return url;
}

before(() => {
  rmSync(folder, { recursive: true, force: true });
  mkdirSync(folder);
  bookend("new", programme, "--title", "Wet stops", "--zone", "Europe/London", "--question", "Which stops shorter?");
  bookend("log", "stint", "--folder", programme, "--test", "wet-stop", "--stint", "1", "--code", "P");
  execFileSync(process.env.BOOKEND, ["people", "add", "A. Holm", "--role", "driver", "--folder", folder], { input: "three words, no more\n" });
});
after(async () => { for (const s of servers) await stop(s); });

const runs = () => logged(programme, "run");

async function signIn(page, url) {
  await page.goto(url + "/p/wet/day?test=wet-stop");
  await page.getByLabel("Name").fill("A. Holm");
  await page.getByLabel("Password").fill("three words, no more");
  await page.getByRole("button", { name: "Sign in" }).click();
  await page.locator("#outbox", { hasText: "All entries sent" }).waitFor();
}

test("over HTTPS: trusted once, signed in, loaded again without a network, everything arrives", async () => {
  const url = await serve();
  const authority = new X509Certificate(readFileSync(`${folder}/authority.pem`));
  const key = createHash("sha256").update(authority.publicKey.export({ type: "spki", format: "der" })).digest("base64");
  const { browser, context } = await launch([`--host-resolver-rules=MAP ${name} 127.0.0.1`, `--ignore-certificate-errors-spki-list=${key}`]);
  const page = await context.newPage();
  await page.setViewportSize(sizes.tablet);
  await page.goto(url + "/trust");
  const shown = (await page.locator("main code").first().innerText()).replaceAll(" ", "");
  assert.equal(shown, authority.fingerprint256.replaceAll(":", ""));
  await page.locator("img").evaluate((i) => i.decode());
  await shoot(page, "trust-tablet");
  await signIn(page, url);
  await shoot(page, "day-driver-tablet");
  assert.equal(await page.evaluate(() => isSecureContext), true);
  await page.evaluate(() => navigator.serviceWorker.ready);
  await page.waitForFunction(async (at) => Boolean(await caches.match(at)), "/p/wet/day");
  await context.setOffline(true);
  await drive(page, 1, 5);
  await page.reload();
  await page.locator("#outbox", { hasText: "5 entries kept here" }).waitFor();
  await drive(page, 6, 10);
  await context.setOffline(false);
  await page.locator("#outbox", { hasText: "All entries sent" }).waitFor({ timeout: 20_000 });
  assert.deepEqual(runs().map((e) => e.body.run), numbered(10));
  assert.equal(runs()[0].author, "A. Holm");
  await browser.close();
});

test("over plain HTTP: the page says what is missing, and nothing is lost", async () => {
  const url = await serve("--without-tls");
  const { browser, context } = await launch([`--host-resolver-rules=MAP ${name} 127.0.0.1`]);
  const page = await context.newPage();
  await signIn(page, url);
  assert.equal(await page.evaluate(() => isSecureContext), false);
  await page.locator("#outbox", { hasText: "This page is not secure: it cannot be opened again without the network" }).waitFor();
  await context.setOffline(true);
  await drive(page, 11, 15);
  await page.locator("#outbox", { hasText: "5 entries kept here" }).waitFor();
  await context.setOffline(false);
  await page.goto("about:blank");
  await page.goto(url + "/p/wet/day?test=wet-stop");
  await page.locator("#outbox", { hasText: "All entries sent" }).waitFor({ timeout: 20_000 });
  assert.deepEqual(runs().map((e) => e.body.run), numbered(15));
  await browser.close();
});

test("another name is not answered to, nor is anybody who has not signed in", async () => {
  const url = await serve();
  const { browser, context } = await launch([`--host-resolver-rules=MAP * 127.0.0.1`, "--ignore-certificate-errors"]);
  const page = await context.newPage();
  const other = await page.goto(url.replace(name, "elsewhere.test") + "/");
  assert.equal(other.status(), 421);
  await page.goto(url + "/p/wet/verdicts");
  await page.getByRole("heading", { name: "Sign in to see the programmes" }).waitFor();
  await browser.close();
});
