// Programmes that one walk has to itself, so that no other meets what is entered or frozen
// in them, and a day's log that is kept there.
import { rmSync } from "node:fs";
import { bookend } from "./desk.mjs";

const passed = [];
process.once("exit", () => { for (const folder of passed) rmSync(folder, { recursive: true, force: true }); });

// passing takes a folder away when the walk ends.
export function passing(folder) {
  passed.push(folder);
  return folder;
}

// begun makes a programme beside the others, anew where an earlier walk left one, and gives
// its folder and where its pages are.
export function begun(name, ...words) {
  const folder = passing(`${process.env.BOOKEND_PROGRAMMES}/${name}`);
  rmSync(folder, { recursive: true, force: true });
  bookend("new", folder, "--zone", "Europe/London", ...words);
  return { folder, at: `/p/${name}` };
}

// fitted makes a programme with a stint on the vehicle, and gives its folder and the page of its day.
export function fitted(name) {
  const { folder, at } = begun(name, "--title", "Lane change, dry", "--ground", "Skerry Moor", "--question", "Which holds the lane?");
  bookend("log", "stint", "--folder", folder, "--test", "lane-change", "--stint", "1", "--code", "K", "--set", "K1");
  return { folder, at: `${at}/day?test=lane-change` };
}

// logged gives the entries of a kind as the laptop keeps them, in its order.
export const logged = (folder, kind, ...more) => JSON.parse(bookend("log", "show", "--folder", folder, "--kind", kind, "--json", ...more)).results.entries;

// drive enters runs by the day's form, as fast as it goes, and waits until this device keeps them.
export async function drive(page, from, to) {
  for (let i = from; i <= to; i++) {
    await page.locator("form[data-kind=run] [name=entry_speed_mps]").fill("85.5");
    await page.locator("form[data-kind=run] button.first").click();
    await page.waitForFunction((n) => document.querySelector("form[data-kind=run] [name=run]").value === String(n), i + 1);
  }
}

// numbered gives the names that a number of runs have: "1", "2" and so on.
export const numbered = (n) => Array.from({ length: n }, (_, i) => String(i + 1));
