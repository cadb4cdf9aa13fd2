// Forms that save themselves while they are filled in. A link or button that leaves the page waits
// for the saving before it: else the next page would not show it, or take it for the work of
// somebody else. What was typed and not sent when the page goes all the same is sent then.
"use strict";

(() => {
  const LIVE = "main form[hx-post][hx-trigger*='change']";
  let unsent = null;
  let held = null; // does what was pressed
  const saving = new Set(); // what htmx is sending now

  const formOf = (element) => element?.closest?.(LIVE) || null;

  document.addEventListener("input", (event) => { unsent = formOf(event.target) || unsent; });

  document.addEventListener("htmx:beforeSend", (event) => {
    if (formOf(event.detail.elt)) saving.add(event.detail.xhr);
  });

  document.addEventListener("htmx:afterRequest", (event) => {
    saving.delete(event.detail.xhr);
    if (event.detail.successful && formOf(event.detail.elt) === unsent) unsent = null;
    setTimeout(goOn, 0); // htmx begins what waits in its queue after this event
  });

  function goOn() {
    if (!held || saving.size) return;
    const act = held;
    held = null;
    act();
  }

  // The answer may have put another button in the place of the one that was pressed.
  function send(form, by) {
    if (!form.isConnected) return;
    const same = `button[name="${CSS.escape(by?.name || "")}"][value="${CSS.escape(by?.value || "")}"]`;
    form.requestSubmit(by?.isConnected ? by : form.querySelector(same));
  }

  document.addEventListener("submit", (event) => {
    const form = event.target;
    if (saving.size && !event.defaultPrevented && form.method === "post") {
      event.preventDefault();
      held = () => send(form, event.submitter);
    } else if (formOf(form)) unsent = null;
  });

  document.addEventListener("click", (event) => {
    const link = event.target.closest?.("a[href]");
    const own = event.defaultPrevented || event.ctrlKey || event.metaKey || event.shiftKey;
    if (!link || own || link.target || link.download || !saving.size) return;
    if (link.href.startsWith(`${location.href.split("#")[0]}#`)) return;
    event.preventDefault();
    held = () => location.assign(link.href);
  });

  window.addEventListener("pagehide", () => {
    if (unsent && unsent.isConnected) navigator.sendBeacon(unsent.action, new FormData(unsent));
    unsent = null;
  });
})();
