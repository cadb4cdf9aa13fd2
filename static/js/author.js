// What was typed in the author form and is not sent yet when the page goes is sent then. A button
// that leaves the page waits for the saving before it: else the form, as it was before that
// saving, would look like the page of somebody else.
"use strict";

(() => {
  const LIVE = "#part form[hx-trigger*='input']";
  let unsent = null;
  let held = null; // {form, by}: the form to send, and the button that was pressed
  const saving = new Set(); // what htmx is sending now

  const formOf = (element) => element.closest?.(LIVE) || null;

  document.addEventListener("input", (event) => { unsent = formOf(event.target) || unsent; });

  document.addEventListener("htmx:beforeSend", (event) => {
    if (formOf(event.detail.elt)) saving.add(event.detail.xhr);
  });

  document.addEventListener("htmx:afterRequest", (event) => {
    saving.delete(event.detail.xhr);
    if (event.detail.successful && formOf(event.detail.elt) === unsent) unsent = null;
    setTimeout(sendHeld, 0); // htmx begins what waits in its queue after this event
  });

  // The answer may have put another button in the place of the one that was pressed.
  function sendHeld() {
    if (!held || saving.size) return;
    const {form, by} = held;
    held = null;
    if (!form.isConnected) return;
    const same = `button[name="${CSS.escape(by?.name || "")}"][value="${CSS.escape(by?.value || "")}"]`;
    form.requestSubmit(by?.isConnected ? by : form.querySelector(same));
  }

  document.addEventListener("submit", (event) => {
    const form = formOf(event.target);
    if (form && saving.size) {
      event.preventDefault();
      held = {form, by: event.submitter};
      return;
    }
    unsent = null;
  });

  window.addEventListener("pagehide", () => {
    if (unsent && unsent.isConnected) navigator.sendBeacon(unsent.action, new FormData(unsent));
    unsent = null;
  });
})();
