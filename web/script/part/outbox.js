// The outbox: what was entered on this device and not answered yet. It lies in
// IndexedDB, so that it is there after a reload, a crash or an empty battery. An
// entry leaves it when the laptop has answered that it is kept, and never before:
// no answer, a refusal to speak (401) or trouble over there (5xx) keeps it here.

const name = "bookend";

// run opens the database, uses it, and gives what the use gave.
function run(mode, stores, use) {
  return new Promise((done, fail) => {
    const opening = indexedDB.open(name, 1);
    opening.onupgradeneeded = () => {
      const db = opening.result;
      db.createObjectStore("entries", { keyPath: ["home", "counter"] });
      db.createObjectStore("device", { keyPath: "home" });
      db.createObjectStore("blobs", { keyPath: "sum" });
    };
    opening.onerror = () => fail(opening.error);
    opening.onsuccess = () => {
      const db = opening.result;
      const change = db.transaction(stores, mode, mode === "readwrite" ? { durability: "strict" } : {});
      let result;
      change.oncomplete = () => { db.close(); done(result); };
      change.onabort = change.onerror = () => { db.close(); fail(change.error); };
      use(change, (value) => { result = value; });
    };
  });
}

// uuid7 gives a UUID of version 7 (RFC 9562, 5.7). crypto.randomUUID is not to be
// had on a page of plain HTTP; this is.
export function uuid7(ms) {
  const b = crypto.getRandomValues(new Uint8Array(16));
  for (let i = 0; i < 6; i++) b[i] = Math.floor(ms / 2 ** (8 * (5 - i))) % 256;
  b[6] = (b[6] & 0x0f) | 0x70;
  b[8] = (b[8] & 0x3f) | 0x80;
  const hex = [...b].map((x) => x.toString(16).padStart(2, "0")).join("");
  return `${hex.slice(0, 8)}-${hex.slice(8, 12)}-${hex.slice(12, 16)}-${hex.slice(16, 20)}-${hex.slice(20)}`;
}

// put keeps an entry here and gives it: the device's counter goes up by one in
// the same transaction, so that it has no gaps however the device ends. supersedes is
// the entry that it stands in the place of, if any.
export function put(home, author, kind, version, body, supersedes) {
  const ms = Date.now();
  return run("readwrite", ["entries", "device"], (change, give) => {
    const devices = change.objectStore("device");
    const asking = devices.get(home);
    asking.onsuccess = () => {
      const device = asking.result ?? { home, name: "tablet " + uuid7(ms).slice(-6), counter: 0 };
      device.counter++;
      devices.put(device);
      // Nanoseconds do not fit a double: the digits are written out.
      const text = `{"id":${JSON.stringify(uuid7(ms))},"kind":${JSON.stringify(kind)},"version":${version},"body":${JSON.stringify(body)},` +
        (supersedes ? `"supersedes":${JSON.stringify(supersedes)},` : "") +
        `"author":${JSON.stringify(author)},"device":${JSON.stringify(device.name)},"counter":${device.counter},` +
        `"device_time":{"unix_ns":${ms}000000,"clock":"device"}}`;
      const entry = { home, counter: device.counter, id: JSON.parse(text).id, kind, body, ms, text, trouble: "" };
      change.objectStore("entries").put(entry);
      give(entry);
    };
  });
}

// list gives what is kept here for a programme, in the order entered.
export function list(home) {
  return run("readonly", ["entries"], (change, give) => {
    const asking = change.objectStore("entries").getAll(IDBKeyRange.bound([home, 0], [home, Infinity]));
    asking.onsuccess = () => give(asking.result);
  });
}

// drop forgets an entry that was answered as kept.
export function drop(entry) {
  return run("readwrite", ["entries"], (change) => change.objectStore("entries").delete([entry.home, entry.counter]));
}

// note writes down why an entry was refused; it stays here.
export function note(entry, trouble) {
  return run("readwrite", ["entries"], (change) => change.objectStore("entries").put({ ...entry, trouble }));
}

// attach keeps the bytes of a voice or a picture under their SHA-256.
export function attach(sum, blob) {
  return run("readwrite", ["blobs"], (change) => change.objectStore("blobs").put({ sum, blob }));
}

// attached gives the bytes kept under a SHA-256, if any.
export function attached(sum) {
  return run("readonly", ["blobs"], (change, give) => {
    const asking = change.objectStore("blobs").get(sum);
    asking.onsuccess = () => give(asking.result?.blob);
  });
}

// detach forgets bytes that the laptop keeps.
export function detach(sum) {
  return run("readwrite", ["blobs"], (change) => change.objectStore("blobs").delete(sum));
}

// send offers what is kept here to the laptop, one after the other in the order
// entered. It gives how it ended: "sent", "no network", "not signed in",
// "trouble" or, where an entry is refused for what it says, "refused"; what comes
// after a refused entry is sent all the same. each is called with every answer.
export async function send(home, each) {
  let how = "sent";
  for (const entry of await list(home)) {
    if (entry.trouble) {
      how = "refused";
      continue;
    }
    let answer;
    try {
      for (const key of ["voice", "picture"]) {
        const blob = entry.body[key] && (await attached(entry.body[key]));
        if (!blob) continue;
        answer = await fetch(`${home}/day/blobs/${entry.body[key]}`, { method: "PUT", body: blob });
        if (!answer.ok) return answer.status === 401 || answer.status === 403 ? "not signed in" : "trouble";
        await detach(entry.body[key]);
      }
      answer = await fetch(`${home}/day/outbox/${entry.id}`, { method: "PUT", headers: { "Content-Type": "application/json" }, body: entry.text });
    } catch {
      return "no network";
    }
    if (answer.status === 401 || answer.status === 403) return "not signed in";
    let receipt;
    try {
      receipt = await answer.json();
    } catch {
      return "trouble";
    }
    if (answer.ok && receipt.kept) {
      await drop(entry);
      each(entry, receipt);
    } else if (answer.status === 409 || answer.status === 422 || answer.status === 501) {
      await note(entry, receipt.text);
      each(entry, receipt);
      how = "refused";
    } else return "trouble";
  }
  return how;
}
