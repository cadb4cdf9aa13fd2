// A step of a plan that is filled in without a network: kept on this device, said where the finger
// is, sent when the network is back. Where somebody changed the step meanwhile the server keeps
// both, and asks.
"use strict";

(() => {
  const plan = document.getElementById("plan-drafts");
  if (!plan || !window.indexedDB) return;

  const FORM = "#plan form.step__form";
  const KEPT = "No network: kept on this device, and sent when it is back.";
  const SAVED = "Saved as you fill it in.";
  const RETRY_MS = 10000;
  const SOON_MS = 300;
  let isCut = false;
  let typing = 0;
  let sending = false;

  const formOf = (element) => element?.closest?.(FORM) ?? null;
  const stepOf = (form) => form.elements.namedItem("do").value;
  const keyOf = (form) => `${plan.dataset.person} ${form.action} ${stepOf(form)}`;

  function say(form, words) {
    const line = form.querySelector(".step__saved");
    if (line && line.textContent !== words) line.textContent = words;
  }

  async function keep(form) {
    isCut = true;
    const fields = [...new FormData(form).entries()].map(([name, value]) => [name, String(value)]);
    await benchStore.keepDraft({
      key: keyOf(form), person: plan.dataset.person, action: form.action, step: stepOf(form),
      words: form.getAttribute("aria-label"), fields: fields.filter(([name]) => name !== "csrfmiddlewaretoken")});
    say(form, KEPT);
  }

  for (const lost of ["htmx:sendError", "htmx:timeout"]) {
    document.addEventListener(lost, (event) => {
      const form = formOf(event.target);
      if (form) keep(form).catch(() => say(form, "No network, and this device keeps nothing: do not leave this page."));
    });
  }

  document.addEventListener("input", (event) => {
    const form = formOf(event.target);
    if (!form || !isCut) return;
    clearTimeout(typing);
    typing = setTimeout(() => keep(form), SOON_MS);
  });

  document.addEventListener("htmx:afterRequest", async (event) => {
    const form = formOf(event.detail.requestConfig?.elt);
    if (!form || !event.detail.successful) return;
    isCut = false;
    say(form, SAVED);
    await benchStore.dropDraft(keyOf(form));
  });

  // True where the server has it now.
  async function send(draft) {
    const {"X-CSRFToken": token} = JSON.parse(document.body.getAttribute("hx-headers"));
    const response = await fetch(draft.action, {
      method: "POST", body: new URLSearchParams(draft.fields), redirect: "manual",
      headers: {"X-CSRFToken": token, "HX-Request": "true"}});
    if (!response.ok) return false;
    await benchStore.dropDraft(draft.key);
    const asked = response.headers.get("HX-Redirect");
    if (asked) location.assign(asked);
    return true;
  }

  async function sendAll() {
    if (sending) return;
    sending = true;
    try {
      for (const draft of await benchStore.drafts(plan.dataset.person)) {
        const open = [...document.querySelectorAll(FORM)].find((form) => keyOf(form) === draft.key);
        if (open) htmx.trigger(open, "change");
        else if (await send(draft)) await renew(draft);
      }
    } catch {
      isCut = true; // no network yet
    } finally {
      sending = false;
    }
  }

  async function renew(draft) {
    if (new URL(draft.action).pathname !== location.pathname) return;
    await htmx.ajax("GET", location.pathname + location.search, {target: "#plan", swap: "outerHTML show:none"});
    plan.textContent = `${draft.words}: what you typed without a network is saved now.`;
  }

  window.addEventListener("online", sendAll);
  setInterval(() => { if (isCut) sendAll(); }, RETRY_MS);
  sendAll();
})();
