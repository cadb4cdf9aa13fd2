// The bench without a network: forms write into the store before they are sent; the page says in
// words what is saved, what waits, and what needs a decision.
"use strict";

(() => {
  const panel = document.getElementById("bench-queue");
  if (!panel || !window.indexedDB) return;

  const queue = {...panel.dataset};
  const line = panel.querySelector(".queue__line");
  const list = panel.querySelector(".queue__list");
  const RETRY_MS = 15000;
  const TWICE_MS = 1200;
  const TWICE_MARKED_MS = 400;
  const SLOW_MS = 10000;
  const KEEP_MS = 20000;
  const OURS = ["client_token", "device_at", "device_offset_s"];
  const loadedAt = Date.now();
  let problem = navigator.onLine ? null : "offline";
  let lastTap = {key: "", at: 0};
  let draining = false;
  let again = false;
  let clockOffsetMs = 0;
  let keeping = 0;
  let pageRows = Number(queue.rows || 0); // of the record, on this page
  const shownHere = new Set(); // numbers of entries whose answer is on this page

  // ---- what a form says -----------------------------------------------------------------------

  function newToken() {
    if (crypto.randomUUID) return crypto.randomUUID();
    const bytes = crypto.getRandomValues(new Uint8Array(16));
    bytes[6] = (bytes[6] & 0x0f) | 0x40;
    bytes[8] = (bytes[8] & 0x3f) | 0x80;
    const hex = [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
    return hex.replace(/^(.{8})(.{4})(.{4})(.{4})(.{12})$/, "$1-$2-$3-$4-$5");
  }

  function setHidden(form, name, value) {
    const field = form.elements.namedItem(name);
    if (field) field.value = value;
  }

  function fieldsOf(form, button) {
    const fields = [...new FormData(form).entries()].map(([name, value]) => [name, String(value)]);
    if (button?.name) fields.push([button.name, button.value]);
    return fields;
  }

  function slotOf(form) {
    return form.dataset.slot || `own ${form.elements.namedItem("client_token").value}`;
  }

  async function entryOf(form, button) {
    const now = Date.now();
    const offsetMs = await benchStore.clock(queue.work);
    setHidden(form, "client_token", newToken());
    setHidden(form, "device_at", new Date(now).toISOString());
    setHidden(form, "device_offset_s", offsetMs === null ? "" : Math.round(offsetMs / 1000));
    const {entry, about, place} = form.dataset;
    const before = (await benchStore.known(queue.work)).filter((one) => one.state === "sent" && one.slot === slotOf(form));
    const seen = [...form.elements.namedItem("seen").value.split(" ").filter(Boolean),
      ...before.flatMap((one) => one.tokens)];
    const fields = fieldsOf(form, button);
    return {
      work: queue.work, token: form.elements.namedItem("client_token").value, entry, about, place,
      fields, words: benchWords.of(form, button), slot: slotOf(form), seen,
      deviceAt: now, offsetMs, state: "waiting",
    };
  }

  // A glove taps twice: the same thing said again at once counts once. After Done the next step has
  // its Done in the same place: a second tap there was meant for the first.
  function isSecondTap(form, button) {
    const isMark = form.dataset.entry === "mark";
    const said = fieldsOf(form, button).filter(([name]) => !OURS.includes(name));
    const key = isMark ? `mark ${button?.value}` : JSON.stringify([form.dataset.entry, form.dataset.about, said]);
    const again = key === lastTap.key && performance.now() - lastTap.at < (isMark ? TWICE_MARKED_MS : TWICE_MS);
    lastTap = {key, at: performance.now()};
    return again;
  }

  // ---- taking an entry ------------------------------------------------------------------------

  async function mustWait() {
    return problem !== null || (await benchStore.all(queue.work)).length > 0;
  }

  async function keepAndSendLater(form, button) {
    if (!form.checkValidity()) {
      form.reportValidity();
      return;
    }
    await benchStore.add(await entryOf(form, button));
    await dropReplaced(form);
    clearAfter(form);
    await show();
    if (form.dataset.entry === "mark") goOn(form, button);
    drain();
  }

  // What this form was filled with again is in the store anew: the entry set aside goes.
  async function dropReplaced(form) {
    if (!form.dataset.replaces) return;
    await benchStore.remove(Number(form.dataset.replaces));
    delete form.dataset.replaces;
  }

  // Online the answer leads to the next step; a mark that waits leads there here.
  function goOn(form, button) {
    const next = form.closest(".step")?.nextElementSibling?.querySelector(":scope > .step__fold");
    if (next) next.open = true;
    if (button?.value !== "open") benchSteps.goOn(form.dataset.about);
  }

  function clearAfter(form) {
    if (form.dataset.entry === "mark") return;
    const mass = form.elements.namedItem("mass");
    if (mass && form.dataset.entry === "weighing") {
      mass.value = "";
      form.elements.namedItem("kind").value = "gross";
      return;
    }
    if (form.hasAttribute("data-again")) form.reset();
    form.closest("details")?.removeAttribute("open");
  }

  async function take(form, button, sendNow) {
    if (isSecondTap(form, button)) return;
    let kept = null;
    try {
      if (await mustWait()) {
        await keepAndSendLater(form, button);
        return;
      }
      const entry = await entryOf(form, button);
      entry.number = await benchStore.add(entry);
      await dropReplaced(form);
      kept = entry;
    } catch (error) {
      // Without a store (a private window, a full disk) the form is sent as without this script.
      console.warn(error);
    }
    sendNow(kept);
  }

  document.addEventListener("htmx:confirm", (event) => {
    const form = event.detail.elt.closest("form[data-entry]");
    if (!form) return;
    event.preventDefault();
    const button = event.detail.elt.matches("button") ? event.detail.elt : null;
    take(form, button, (entry) => {
      if (entry) {
        benchSender.inFlight.add(entry.token);
        event.detail.elt.benchEntry = entry;
      }
      event.detail.issueRequest(true);
    });
  });

  document.addEventListener("htmx:configRequest", (event) => {
    if (event.detail.elt.benchEntry) event.detail.timeout = SLOW_MS;
  });

  document.addEventListener("htmx:afterRequest", async (event) => {
    const sender = event.detail.requestConfig.elt;
    const entry = sender.benchEntry;
    if (!entry) return;
    delete sender.benchEntry;
    if (event.detail.successful) {
      const saved = event.detail.xhr.getResponseHeader("Bench-Saved");
      shownHere.add(entry.number);
      if (saved) await benchStore.sent(entry, JSON.parse(saved));
      else await benchStore.remove(entry.number);
      keepPagesSoon();
    } else {
      if (event.detail.xhr.status === 0) problem = "offline";
      const form = sender.closest("form[data-entry]");
      if (form) clearAfter(form);
    }
    benchSender.inFlight.delete(entry.token);
    await show();
    if (!event.detail.successful && sender.form?.dataset.entry === "mark") goOn(sender.form, sender);
    if ((await benchStore.all(queue.work)).length > 0) drain();
  });

  // Forms with a page of their own are sent as without this script, once they are kept.
  document.addEventListener("submit", (event) => {
    const form = event.target.closest("form[data-entry]");
    if (!form || form.hasAttribute("hx-post") || event.submitter?.hasAttribute("hx-post")) return;
    event.preventDefault();
    take(form, event.submitter, () => {
      if (event.submitter?.name) {
        const carried = document.createElement("input");
        Object.assign(carried, {type: "hidden", name: event.submitter.name, value: event.submitter.value});
        form.append(carried);
      }
      form.submit();
    });
  });

  // What failed by a mistake of the server's may work by now: tried again once at each page.
  async function tryFailedAgain() {
    for (const entry of await benchStore.all(queue.work)) {
      if (entry.state === "asked" && entry.answer.status >= 500) {
        await benchStore.put({...entry, state: "waiting"});
      }
    }
  }

  // A form that came back with what is wrong in it was read by the server: it keeps what was typed.
  async function forgetAnswered() {
    for (const entry of await benchStore.all(queue.work)) {
      if (queue.answered && entry.token === queue.answered) await benchStore.remove(entry.number);
    }
  }

  // ---- sending and showing ---------------------------------------------------------------------

  async function drain() {
    again = true;
    if (draining) return;
    draining = true;
    try {
      let sent = 0;
      while (again) {
        again = false;
        const done = await benchSender.drain(queue);
        problem = done.problem;
        sent += done.sent;
      }
      if (sent > 0 && location.pathname === queue.bench) await renew();
      if (sent > 0) keepPagesSoon();
      if (problem === "somebody-else" && window.caches) await caches.delete("labcourse-pages");
    } finally {
      draining = false;
    }
    await show();
  }

  // The server's picture of the record, put in place of what is shown; fields stay as they are.
  async function renew() {
    let fresh;
    try {
      const response = await fetch(queue.bench, {redirect: "manual", cache: "no-store"});
      if (!response.ok) return;
      fresh = new DOMParser().parseFromString(await response.text(), "text/html");
    } catch {
      return;
    }
    const place = benchSteps.at();
    const parts = ["#bench-steps", "#reagents", ...[...document.querySelectorAll(".target")].map(
      (target) => `#${CSS.escape(target.id)} > [role=status]`)];
    for (const part of parts) {
      const [old, now] = [document.querySelector(part), fresh.querySelector(part)];
      if (!old || !now) continue;
      old.replaceWith(document.adoptNode(now));
      htmx.process(now);
    }
    pageRows = Number(fresh.getElementById("bench-queue").dataset.rows || 0);
    if (place) benchSteps.show(place);
  }

  // Whether the page lay on the device for a while. By the device's clock as it is.
  function isOld() {
    return Math.abs(loadedAt + clockOffsetMs - queue.rendered * 1000) > 60000;
  }

  const PROBLEMS = {
    "offline": "No network.",
    "signed-out": "You are signed out: sign in again to send.",
    "somebody-else": "Somebody else is signed in: this is sent when its owner signs in again.",
  };

  function lineWords(waiting, asked) {
    const said = [];
    if (problem === "offline" && isOld()) said.push(`No network: this page is as of ${benchWords.clock(queue.rendered * 1000)}.`);
    else if (problem) said.push(PROBLEMS[problem]);
    if (waiting.length) {
      said.push(`${benchWords.count(waiting)} waiting to be sent, saved on this device.`);
    } else if (problem === "offline") {
      said.push("What you record is saved on this device and sent later.");
    }
    if (asked.length) said.push(`${benchWords.many(asked.length, "entry needs", "entries need")} your decision.`);
    return said.join(" ") || "Everything you recorded is saved on the server.";
  }

  async function show() {
    // Another person's queue is neither shown nor sent.
    const known = problem === "somebody-else" ? [] : (await benchStore.known(queue.work)).filter(
      (entry) => !benchSender.inFlight.has(entry.token));
    const sent = known.filter((one) => one.state === "sent" && one.rows > pageRows && !shownHere.has(one.number));
    const entries = known.filter((entry) => entry.state !== "sent");
    const waiting = entries.filter((entry) => entry.state !== "asked");
    const asked = entries.filter((entry) => entry.state === "asked");
    benchSteps.overlay([...sent, ...waiting]);
    const words = lineWords(waiting, asked);
    if (line.textContent !== words) line.textContent = words;
    panel.classList.toggle("queue--waiting", entries.length > 0 || problem !== null);
    list.replaceChildren(...asked.map((entry) => benchQuestions.note(entry, {queue, show, drain})), ...(waiting.length ? [listOf(waiting)] : []));
    document.querySelectorAll(".queued-note").forEach((note) => note.remove());
    for (const entry of waiting) noteAtPlace(entry, "Waiting to be sent");
    for (const entry of sent) noteAtPlace(entry, "Recorded, this copy of the page is older");
  }

  function listOf(waiting) {
    const items = benchQuestions.element("ol", "", "queue__waiting");
    items.append(...waiting.map((entry) => benchQuestions.element("li", benchWords.said(entry))));
    return items;
  }

  function noteAtPlace(entry, what) {
    const place = entry.place && document.getElementById(entry.place);
    if (!place) return;
    const at = place.querySelector(":scope > .step__fold, :scope > .step__text, :scope > [role=status]") ?? place;
    const note = benchQuestions.element("p", `${what}: ${entry.words}`, "queued-note");
    if (at === place) place.append(note); else at.after(note);
  }

  // ---- keeping the pages ------------------------------------------------------------------------

  // What was sent is known from the kept pages as soon as they are that new.
  async function forgetKept() {
    const rows = [];
    for (const url of [queue.bench, queue.offline]) {
      const kept = await caches.match(url);
      rows.push(kept ? Number((await kept.text()).match(/data-rows="(\d+)"/)?.[1] ?? 0) : 0);
    }
    await benchStore.forget(queue.work, Math.min(...rows));
  }

  async function keepPages() {
    if (!navigator.serviceWorker || problem !== null) return;
    await forgetKept();
    await navigator.serviceWorker.register(queue.worker);
    const ready = await navigator.serviceWorker.ready;
    ready.active.postMessage({keep: [queue.bench, queue.offline]});
  }

  // Not at every tap: the server has a whole class to answer.
  function keepPagesSoon() {
    clearTimeout(keeping);
    keeping = setTimeout(keepPages, KEEP_MS);
  }

  // The page of all forms may stand in for the page of one: it opens that one.
  function partOf(path, search) {
    const [, entry, about] = path.match(/\/entries\/([\w-]+)\/(?:([\w-]+)\/)?$/) ?? [];
    if (entry) return about ? `${entry}-${about}` : entry;
    return path.endsWith("/steps/add/") ? `add-${new URLSearchParams(search).get("verb") ?? ""}` : "";
  }

  function openPart() {
    const part = document.getElementById(
      decodeURIComponent(location.hash.slice(1)) || partOf(location.pathname, location.search));
    if (part?.tagName !== "DETAILS") return;
    benchQuestions.unfold(part);
    part.scrollIntoView();
  }

  document.addEventListener("htmx:afterSettle", (event) => {
    // A mark leads to the next step: who works by keys goes on there.
    const lost = document.activeElement === null || document.activeElement === document.body;
    if (event.detail.elt?.id === "bench-steps") {
      benchSteps.settle();
      if (lost) document.querySelector(".bench-bar__row:not([hidden]) .bench-bar__done:not([hidden])")?.focus({preventScroll: true});
    }
    show();
  });
  window.addEventListener("online", () => drain());
  window.addEventListener("offline", () => { problem = "offline"; show(); });
  window.addEventListener("hashchange", openPart);
  document.addEventListener("visibilitychange", () => { if (!document.hidden) drain(); });
  setInterval(async () => {
    if (problem !== null || (await benchStore.all(queue.work)).some((e) => e.state !== "asked")) drain();
  }, RETRY_MS);

  openPart();
  benchStore.clock(queue.work).then((ms) => { clockOffsetMs = ms ?? 0; })
    .then(forgetAnswered).then(tryFailedAgain).then(show).then(drain).then(keepPages).catch((error) => console.warn(error));
})();
