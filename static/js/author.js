// What was typed in the author form and is not sent yet when the page goes is sent then.
"use strict";

let unsent = null;

document.addEventListener("input", (event) => {
  unsent = event.target.closest("#part form[hx-trigger*='input']") || unsent;
});
document.addEventListener("htmx:afterRequest", (event) => {
  if (event.detail.successful && event.detail.elt.closest("form") === unsent) unsent = null;
});
document.addEventListener("submit", () => { unsent = null; });
window.addEventListener("pagehide", () => {
  if (unsent && unsent.isConnected) navigator.sendBeacon(unsent.action, new FormData(unsent));
  unsent = null;
});
