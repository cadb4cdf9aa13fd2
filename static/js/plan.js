// Steps of a plan are moved by dragging too. The buttons Up and Down do the same without it.
"use strict";

(() => {
  const EDGE_PX = 72;
  const PX_PER_MS = 0.6;
  let dragged = null; // {step, steps, from, to, y, isMoved}

  // The word to drag by stands only where this script does; keyboards and readers have the buttons.
  function addHandles() {
    for (const step of document.querySelectorAll(".step[data-move]:not(.step--open)")) {
      if (step.querySelector(".step__handle")) continue;
      const handle = document.createElement("span");
      handle.className = "step__handle";
      handle.setAttribute("aria-hidden", "true");
      handle.textContent = "Drag";
      step.append(handle);
    }
  }

  // The place a step would take among the others, 0 at the top.
  function placeAt(y) {
    const others = dragged.steps.filter((step) => step !== dragged.step);
    const below = others.findIndex((step) => {
      const box = step.getBoundingClientRect();
      return y < box.top + box.height / 2;
    });
    return below === -1 ? others.length : below;
  }

  function showPlace() {
    for (const step of dragged.steps) step.classList.remove("step--drop-above", "step--drop-below");
    if (dragged.to === dragged.from) return;
    const others = dragged.steps.filter((step) => step !== dragged.step);
    if (dragged.to < others.length) others[dragged.to].classList.add("step--drop-above");
    else others.at(-1).classList.add("step--drop-below");
  }

  function follow() {
    dragged.to = placeAt(dragged.y);
    showPlace();
  }

  // A finger that rests at the edge sends nothing; the page moves on under it all the same.
  function scrollAtEdge(drag, before, now) {
    if (dragged !== drag) return;
    const way = dragged.y < EDGE_PX ? -1 : dragged.y > window.innerHeight - EDGE_PX ? 1 : 0;
    if (way !== 0) {
      window.scrollBy({top: way * PX_PER_MS * Math.min(now - before, 50), behavior: "instant"});
      follow();
    }
    requestAnimationFrame((next) => scrollAtEdge(drag, now, next));
  }

  function letGo() {
    for (const step of dragged.steps) step.classList.remove("step--drop-above", "step--drop-below", "step--dragged");
    const done = dragged;
    dragged = null;
    return done;
  }

  document.addEventListener("pointerdown", (event) => {
    const handle = event.target.closest?.(".step__handle");
    if (!handle || event.button !== 0) return;
    event.preventDefault();
    handle.setPointerCapture(event.pointerId);
    const step = handle.closest(".step");
    const steps = [...step.parentElement.querySelectorAll(":scope > .step")];
    dragged = {step, steps, from: steps.indexOf(step), to: steps.indexOf(step), y: event.clientY};
    step.classList.add("step--dragged");
  });

  document.addEventListener("pointermove", (event) => {
    if (!dragged) return;
    if (!dragged.isMoved) {
      const drag = dragged;
      drag.isMoved = true;
      requestAnimationFrame((now) => scrollAtEdge(drag, now, now));
    }
    dragged.y = event.clientY;
    follow();
  });

  document.addEventListener("pointerup", () => {
    if (!dragged) return;
    const {step, from, to} = letGo();
    if (to === from) return;
    htmx.ajax("POST", step.dataset.move, {
      source: step, target: step.closest("[hx-target]").getAttribute("hx-target"), swap: "outerHTML show:none",
      values: {do: `move:${step.id.slice("step-".length)}`, version: step.querySelector(".plan-version").value, by: to - from},
    });
  });

  document.addEventListener("pointercancel", () => { if (dragged) letGo(); });
  document.addEventListener("keydown", (event) => { if (dragged && event.key === "Escape") letGo(); });
  document.addEventListener("htmx:afterSettle", addHandles);
  addHandles();
})();
