// The bench one step at a time: Back, Next and the list show another step of the same page, so that
// they work without a network; what this device has said and the page does not show yet stands on
// it too. The screen stays on where the browser lets it.
"use strict";

const benchSteps = (() => {
  const REST = "rest";
  const root = () => document.getElementById("bench-steps");
  const steps = () => [...(root()?.querySelectorAll(".step[data-shown-at]") ?? [])];
  const isOpen = () => Boolean(root()?.dataset.at);
  let isSettled = false; // the place that the page opens with is found
  let said = []; // entries of this device that the page may not show

  function at() {
    return root()?.dataset.at || "";
  }

  // Only what is to be seen there; the address and the line on top follow.
  function show(place) {
    if (!isOpen()) return;
    root().dataset.at = place;
    for (const part of document.querySelectorAll("[data-shown-at]")) {
      part.hidden = !part.dataset.shownAt.split(" ").includes(place);
    }
    for (const link of root().querySelectorAll(".bench-list a")) {
      if (link.dataset.to === place) link.setAttribute("aria-current", "step");
      else link.removeAttribute("aria-current");
    }
    for (const part of root().querySelectorAll(".place-line rect")) {
      part.classList.toggle("is-at", part.dataset.of === place);
    }
  }

  function go(place) {
    if (!isOpen()) return;
    show(place);
    document.getElementById("bench-list").open = false;
    history.pushState(null, "", `?step=${encodeURIComponent(place)}`);
    window.scrollTo({top: 0, behavior: "instant"});
    (steps().find((step) => !step.hidden)?.querySelector(".step__head")
      ?? document.getElementById("weighings-heading"))?.focus({preventScroll: true});
  }

  // The mark that holds as far as this device knows.
  function markOf(step) {
    const about = said.filter((entry) => entry.entry === "mark" && entry.about === step.dataset.shownAt);
    if (!about.length) return step.dataset.mark;
    const mark = about.at(-1).fields.find(([name]) => name === "mark")?.[1];
    return mark === "open" ? "" : mark;
  }

  // Put what was said on the page: the server's picture first, this device's words over it.
  function overlay(entries) {
    said = entries;
    if (!isOpen()) return;
    let left = 0;
    for (const step of steps()) {
      const [id, mark] = [step.dataset.shownAt, markOf(step)];
      left += mark ? 0 : 1;
      for (const label of root().querySelectorAll(`[data-mark-of="${CSS.escape(id)}"]`)) {
        label.hidden = !mark;
        label.textContent = mark;
      }
      for (const button of root().querySelectorAll(`form[data-about="${CSS.escape(id)}"] [data-when]`)) {
        button.hidden = (button.dataset.when === "marked") !== Boolean(mark);
      }
      root().querySelector(`.place-line [data-of="${CSS.escape(id)}"]`)?.classList.toggle("is-marked", Boolean(mark));
    }
    const words = left ? `${left} ${left === 1 ? "step" : "steps"} to go.` : "Every step has its mark.";
    const line = document.getElementById("bench-left");
    if (line.textContent !== words) line.textContent = words;
    showLast();
    if (!isSettled && !new URLSearchParams(location.search).has("step")) show(nextOf(""));
    isSettled = true;
  }

  // The line over Done is about the last mark, this device's own before the page's.
  function showLast() {
    const line = root().querySelector(".last-mark");
    const last = said.filter((entry) => entry.entry === "mark").at(-1);
    const step = last && steps().find((one) => one.dataset.shownAt === last.about);
    if (!line || !step) return;
    line.hidden = !markOf(step);
    line.querySelector("span").textContent = `${step.dataset.name}: ${markOf(step)}.`;
    line.querySelector("button").dataset.undoes = last.about;
  }

  // Undo of what the page does not know yet is that step's own button.
  document.addEventListener("click", (event) => {
    const undo = event.target.closest?.("[data-undoes]");
    if (!undo) return;
    event.preventDefault();
    event.stopImmediatePropagation();
    document.getElementById(`undo-${undo.dataset.undoes}`).click();
  }, true);

  // The next step without a mark after one, as the server leads there too.
  function nextOf(id) {
    const all = steps();
    const here = all.findIndex((step) => step.dataset.shownAt === id);
    const next = all.slice(here + 1).find((step) => !markOf(step)) ?? all.find((step) => !markOf(step));
    return next ? next.dataset.shownAt : REST;
  }

  // After a mark that waits: where the server would have led.
  function goOn(id) {
    const next = nextOf(id);
    go(next);
    document.getElementById(`done-${next}`)?.focus({preventScroll: true});
  }

  // After the server's answer, which has the place in it.
  function settle() {
    if (!isOpen()) return;
    show(at());
    history.replaceState(null, "", `?step=${encodeURIComponent(at())}`);
  }

  // Where the address or its anchor points; else what the server showed.
  function follow() {
    const asked = new URLSearchParams(location.search).get("step");
    const part = location.hash.length > 1 && document.getElementById(decodeURIComponent(location.hash.slice(1)));
    const around = part && part.closest("[data-shown-at]");
    const known = asked === REST || steps().some((step) => step.dataset.shownAt === asked);
    const place = known ? asked : around ? around.dataset.shownAt.split(" ")[0] : at();
    if (isOpen()) show(place);
    if (around) part.scrollIntoView();
  }

  document.addEventListener("click", (event) => {
    const link = event.target.closest?.("#bench-steps a[data-to]");
    if (!link || event.ctrlKey || event.metaKey || event.shiftKey) return;
    event.preventDefault();
    go(link.dataset.to);
  });
  window.addEventListener("popstate", follow);

  // ---- the screen ------------------------------------------------------------------------------

  // A phone that sleeps in the middle of a weighing has to be unlocked with a glove.
  async function stayOn() {
    const line = document.getElementById("bench-screen");
    if (!line || document.hidden || !isOpen()) return;
    try {
      await navigator.wakeLock.request("screen");
      line.textContent = "The screen stays on while this page is open.";
    } catch {
      line.textContent = "This browser does not keep the screen on: set a long time in the device's settings.";
    }
  }

  document.addEventListener("visibilitychange", stayOn);
  follow();
  stayOn();
  return {at, show, overlay, goOn, settle};
})();
