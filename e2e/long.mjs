// Recordings of half an hour at 100 Hz with eight channels, made up: a recording by itself,
// and two codes' laps of 36 km that lie over each other.
import { mkdtempSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { bookend } from "./desk.mjs";
import { begun, passing } from "./own.mjs";

export const rows = 180_000;
const names = ["speed [m/s]", "ax [m/s²]", "ay [m/s²]", "yaw_rate [deg/s]", "steering [deg]", "brake", "pitch [deg]", "roll [deg]"];
const wave = (i, k) => (20 + 5 * Math.sin(i / (97 + 13 * k))).toFixed(3);

// begin makes a programme of its own, and a folder for the files that it is brought.
export function begin(name) {
  const { folder } = begun(name);
  return { programme: folder, files: passing(mkdtempSync(`${tmpdir()}/bookend-`)) };
}

// recording brings one in that is cut by hand alone.
export function recording(of) {
  const lines = [["time [s]", ...names].join(",")];
  for (let i = 0; i < rows; i++) lines.push([(i / 100).toFixed(2), ...names.map((_, k) => wave(i, k))].join(","));
  writeFileSync(`${of.files}/long.csv`, `${lines.join("\n")}\n`);
  writeFileSync(`${of.files}/log.csv`, "stint,code,run,recording\n1,K,1,long.csv\n");
  bookend("import", "--folder", of.programme, "--test", "long", "--procedure", "circle", "--set", "steering_ratio=15", "--set", "wheelbase=3m", `${of.files}/long.csv`, `${of.files}/log.csv`);
}

// laps brings in one lap of each of two codes, left-handed round a circle at 20 m/s.
export function laps(of) {
  const radius = (20 * rows) / 100 / (2 * Math.PI), lat = 55, lon = -3;
  // Metres a degree on WGS 84 at 55 degrees; a circle that is off by a few metres is as long a lap.
  const north = 111_320, east = 63_990;
  const place = (angle, r) => [(lat + (r * Math.sin(angle)) / north).toFixed(9), (lon + (r * Math.cos(angle)) / east).toFixed(9)];
  for (const [code, wide] of [["K", 0], ["P", 2]]) {
    const lines = [["time [s]", "latitude [deg]", "longitude [deg]", ...names].join(",")];
    for (let i = -500; i < rows + 500; i++) {
      lines.push([((i + 500) / 100).toFixed(2), ...place((2 * Math.PI * (i + 0.37)) / rows, radius + wide), ...names.map((_, k) => (k === 0 ? "20.000" : wave(i, k)))].join(","));
    }
    writeFileSync(`${of.files}/${code}.csv`, `${lines.join("\n")}\n`);
  }
  writeFileSync(`${of.files}/log.csv`, "stint,code,run,recording\n1,K,1,K.csv\n2,P,1,P.csv\n");
  const gate = [...place(0, radius + 20), ...place(0, radius - 20)].join(",");
  bookend("import", "--folder", of.programme, "--test", "lap", "--procedure", "lap", "--set", "motion=as_recorded", "--gate", gate, `${of.files}/K.csv`, `${of.files}/P.csv`, `${of.files}/log.csv`);
}

// waits counts how long a part of a page takes to show a window: 20 times the whole of it,
// and 20 times an eighth. It gives the medians, ms.
export function waits(page, part, holder) {
  return page.evaluate(async ([part, holder]) => {
    const strips = document.querySelector(holder);
    const look = async (name) => {
      delete strips.dataset.took;
      document.querySelector(`${part} [data-look="${name}"]`).click();
      while (!strips.dataset.took) await new Promise((done) => setTimeout(done, 2));
      return +strips.dataset.took;
    };
    const median = (l) => l.sort((x, y) => x - y)[l.length / 2];
    const whole = [], near = [];
    for (let i = 0; i < 20; i++) {
      whole.push(await look("whole"));
      await look("nearer");
      await look("nearer");
      near.push(await look("nearer"));
    }
    return { whole: median(whole), near: median(near) };
  }, [part, holder]);
}
