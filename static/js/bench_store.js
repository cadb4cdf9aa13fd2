// What was recorded at the bench and is not known to be on the server: kept on this device.
//
// An entry is written here before it is sent, and removed when the server has answered. Its
// `number` counts up by itself, so that the order does not depend on any clock. Entries belong to
// one student's work; the server takes them from that student alone.
"use strict";

const benchStore = (() => {
  let opened = null;

  function open() {
    opened ??= new Promise((resolve, reject) => {
      const request = indexedDB.open("labcourse-bench", 1);
      request.onupgradeneeded = () => {
        const entries = request.result.createObjectStore(
          "entries", {keyPath: "number", autoIncrement: true});
        entries.createIndex("work", "work");
        entries.createIndex("token", "token", {unique: true});
        request.result.createObjectStore("clocks", {keyPath: "work"});
      };
      request.onsuccess = () => {
        request.result.onversionchange = () => request.result.close();
        resolve(request.result);
      };
      request.onerror = () => reject(request.error);
      request.onblocked = () => reject(new Error("the store is blocked by another tab"));
    });
    return opened;
  }

  // Runs one transaction; resolves with the request's result once it has reached the disk.
  async function run(stores, mode, act) {
    const database = await open();
    return new Promise((resolve, reject) => {
      const transaction = database.transaction(stores, mode, {durability: "strict"});
      const request = act(transaction);
      transaction.oncomplete = () => resolve(request?.result);
      transaction.onabort = transaction.onerror = () => reject(transaction.error);
    });
  }

  return {
    add: (entry) => run("entries", "readwrite", (t) => t.objectStore("entries").add(entry)),
    put: (entry) => run("entries", "readwrite", (t) => t.objectStore("entries").put(entry)),
    remove: (number) =>
      run("entries", "readwrite", (t) => t.objectStore("entries").delete(number)),
    // In the order recorded.
    all: (work) =>
      run("entries", "readonly", (t) => t.objectStore("entries").index("work").getAll(work)),
    async clock(work) {
      const kept = await run("clocks", "readonly", (t) => t.objectStore("clocks").get(work));
      return kept ? kept.offsetMs : null;
    },
    keepClock: (work, offsetMs) =>
      run("clocks", "readwrite", (t) => t.objectStore("clocks").put({work, offsetMs})),
  };
})();
