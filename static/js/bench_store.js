// What was said on this device: at the bench, and in a plan without a network.
//
// An entry is written here before it is sent. When the server has it, it stays as "sent" with the
// count of the record's rows then, until the kept pages have as many rows: a page loaded without a
// network shows it too. Its `number` counts up by itself, so that the order does not depend on any
// clock. Entries belong to one student's work; the server takes them from that student alone.
"use strict";

const benchStore = (() => {
  let opened = null;

  function open() {
    opened ??= new Promise((resolve, reject) => {
      const request = indexedDB.open("labcourse-bench", 2);
      request.onupgradeneeded = (event) => {
        if (event.oldVersion < 1) {
          const entries = request.result.createObjectStore(
            "entries", {keyPath: "number", autoIncrement: true});
          entries.createIndex("work", "work");
          entries.createIndex("token", "token", {unique: true});
          request.result.createObjectStore("clocks", {keyPath: "work"});
        }
        request.result.createObjectStore("drafts", {keyPath: "key"});
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

  const known = (work) =>
    run("entries", "readonly", (t) => t.objectStore("entries").index("work").getAll(work));

  return {
    add: (entry) => run("entries", "readwrite", (t) => t.objectStore("entries").add(entry)),
    put: (entry) => run("entries", "readwrite", (t) => t.objectStore("entries").put(entry)),
    remove: (number) =>
      run("entries", "readwrite", (t) => t.objectStore("entries").delete(number)),
    // In the order recorded: all there is, and what is not known to be on the server.
    known,
    all: async (work) => (await known(work)).filter((entry) => entry.state !== "sent"),
    async sent(entry, {rows, tokens}) {
      await run("entries", "readwrite", (t) =>
        t.objectStore("entries").put({...entry, state: "sent", rows, tokens}));
    },
    // Pages with so many rows are kept: they show what was sent until then.
    async forget(work, rows) {
      const shown = (await known(work)).filter((entry) => entry.state === "sent" && entry.rows <= rows);
      for (const {number} of shown) await run("entries", "readwrite", (t) => t.objectStore("entries").delete(number));
    },
    keepDraft: (draft) => run("drafts", "readwrite", (t) => t.objectStore("drafts").put(draft)),
    dropDraft: (key) => run("drafts", "readwrite", (t) => t.objectStore("drafts").delete(key)),
    drafts: async (person) =>
      (await run("drafts", "readonly", (t) => t.objectStore("drafts").getAll())).filter((one) => one.person === person),
    async clock(work) {
      const kept = await run("clocks", "readonly", (t) => t.objectStore("clocks").get(work));
      return kept ? kept.offsetMs : null;
    },
    keepClock: (work, offsetMs) =>
      run("clocks", "readwrite", (t) => t.objectStore("clocks").put({work, offsetMs})),
  };
})();
