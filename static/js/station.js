// The shared station signs out by itself: a warning first, and one tap is enough to stay.
"use strict";

(() => {
  const station = document.getElementById("station");
  if (!station) return;

  const warning = document.getElementById("station-warning");
  const words = warning.querySelector(".note__what");
  const idleMs = Number(station.dataset.idle) * 1000;
  const warnMs = Math.min(30000, idleMs / 2);
  const TELL_MS = 20000; // how often typing is told to the server
  let lastSeen = Date.now();
  let lastTold = Date.now();

  function leave() {
    location.replace(station.dataset.leave);
  }

  async function stay() {
    lastSeen = lastTold = Date.now();
    warning.hidden = true;
    try {
      const response = await fetch(warning.dataset.stay, {
        method: "POST", body: new FormData(warning), redirect: "manual",
        headers: {Accept: "text/plain"}});
      if (response.type === "opaqueredirect") leave();
    } catch {
      // No network: the page still signs out in time.
    }
  }

  function seen() {
    lastSeen = Date.now();
    if (!warning.hidden || lastSeen - lastTold > TELL_MS) stay();
  }

  for (const kind of ["keydown", "pointerdown", "input"]) document.addEventListener(kind, seen);
  warning.addEventListener("submit", (event) => { event.preventDefault(); stay(); });
  setInterval(() => {
    const left = lastSeen + idleMs - Date.now();
    if (left <= 0) leave();
    else if (left <= warnMs && warning.hidden) {
      words.textContent = "Nobody has typed for a while: the station signs out in half a minute.";
      warning.hidden = false;
    }
  }, 1000);
})();
