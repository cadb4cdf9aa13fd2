// Sends what waits on this device, in the order recorded, one entry after the other.
"use strict";

const benchSender = (() => {
  const PATIENCE_MS = 10000;
  const inFlight = new Set(); // tokens that a form of this tab is sending itself
  // Answers that say nothing about the entry: the way to the server, or the server as a whole.
  const PASSING = new Set([408, 425, 429, 502, 503, 504]);
  // Nobody else can say why an entry was refused: the answer is a page, not an outcome.
  const REASONS = {
    400: "The server could not read what was sent.",
    403: "You may not write to this record any more: the course may be archived.",
    404: "The step or reading it is about is not there.",
    409: "The record did not take it.",
    413: "It is too long.",
  };
  const OUR_MISTAKE = "The server could not store it: a mistake of the program, which its log holds.";

  // Where the record may yet take the entry as it is, what was said later of the same place waits.
  const HOLDING = new Set(["changed", "locked"]);

  // The server's word that we are through: {offsetMs, csrfToken}, or why not in `problem`.
  async function connect(queue) {
    const before = Date.now();
    let response;
    try {
      response = await fetch(queue.check, {
        headers: {Accept: "application/json"}, cache: "no-store", redirect: "manual",
        signal: AbortSignal.timeout(PATIENCE_MS)});
    } catch {
      return {problem: "offline"};
    }
    if (response.type === "opaqueredirect") return {problem: "signed-out"};
    if (response.status === 404 || response.status === 403) return {problem: "somebody-else"};
    if (!response.ok) return {problem: "offline"};
    const said = await response.json().catch(() => null);
    if (said === null) return {problem: "offline"};
    if (said.person !== queue.person) return {problem: "somebody-else"};
    const offsetMs = said.now_ms - (before + Date.now()) / 2;
    await benchStore.keepClock(queue.work, offsetMs);
    return {offsetMs, csrfToken: said.csrf_token};
  }

  // The server's outcome for one entry; null where no answer came that is about it.
  async function send(queue, entry, csrfToken) {
    const body = new URLSearchParams(entry.fields.filter(([name]) => name !== "csrfmiddlewaretoken"));
    body.set("queue-entry", entry.entry);
    body.set("queue-about", entry.about);
    body.set("seen", entry.seen.join(" "));
    try {
      const response = await fetch(queue.replay, {
        method: "POST", body, headers: {"X-CSRFToken": csrfToken, Accept: "application/json"},
        cache: "no-store", redirect: "manual", signal: AbortSignal.timeout(PATIENCE_MS)});
      if (response.type === "opaqueredirect" || PASSING.has(response.status)) return null;
      if (response.ok) return await response.json();
      return {outcome: "refused", status: response.status,
              words: REASONS[response.status] ?? OUR_MISTAKE};
    } catch {
      return null;
    }
  }

  // Entries about one place, made later on this device, know what was saved before them.
  async function tellLater(queue, saved, tokens) {
    for (const entry of await benchStore.all(queue.work)) {
      if (entry.number > saved.number && entry.slot === saved.slot) {
        await benchStore.put({...entry, seen: [...new Set([...entry.seen, ...tokens])]});
      }
    }
  }

  // Sends all that can be sent. Returns {sent, problem}.
  async function sendAll(queue) {
    let sent = 0;
    const connection = await connect(queue);
    if (connection.problem) return {sent, problem: connection.problem};
    const held = new Set(); // places about which an earlier entry waits for a decision
    const numbers = (await benchStore.all(queue.work)).map((entry) => entry.number);
    for (const number of numbers) {
      // Read again: what was saved meanwhile may have told this one.
      const entry = (await benchStore.all(queue.work)).find((one) => one.number === number);
      if (!entry) continue;
      if (inFlight.has(entry.token)) break; // nothing overtakes what a form is sending
      if (entry.state === "asked") {
        if (HOLDING.has(entry.answer.outcome)) held.add(entry.slot);
        continue;
      }
      if (held.has(entry.slot)) continue;
      const answer = await send(queue, entry, connection.csrfToken);
      if (answer === null) return {sent, problem: "offline"};
      if (answer.outcome === "saved") {
        await tellLater(queue, entry, answer.tokens);
        await benchStore.sent(entry, answer);
        sent += 1;
      } else {
        if (HOLDING.has(answer.outcome)) held.add(entry.slot);
        await benchStore.put({...entry, state: "asked", answer});
      }
    }
    return {sent, problem: null};
  }

  // One sender at a time over all tabs, where the browser can tell; the server counts each once
  // in any case.
  function drain(queue) {
    const locks = navigator.locks;
    if (!locks) return sendAll(queue);
    return locks.request(`labcourse-bench-${queue.work}`, () => sendAll(queue));
  }

  return {drain, inFlight};
})();
