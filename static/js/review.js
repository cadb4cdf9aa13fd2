// Keys on the pages of the review: n or j next, p or k previous, a accept. Each key presses a
// link or button that is on the page anyway. They can be switched off; the browser remembers it.
"use strict";

const STORE = "labcourse-review-keys";
const isOff = () => localStorage.getItem(STORE) === "off";

document.addEventListener("keydown", (event) => {
  if (isOff() || event.ctrlKey || event.altKey || event.metaKey || event.repeat) return;
  if (event.target.closest("input, select, textarea, [contenteditable]")) return;
  const pressed = [...document.querySelectorAll("[data-keys]")].find(
    (element) => element.dataset.keys.split(" ").includes(event.key));
  if (pressed) {
    event.preventDefault();
    pressed.click();
  }
});

for (const button of document.querySelectorAll("[data-keys-switch]")) {
  const tell = () => { button.textContent = isOff() ? "Keys are off" : "Keys are on"; };
  button.hidden = false;
  button.addEventListener("click", () => {
    localStorage.setItem(STORE, isOff() ? "on" : "off");
    tell();
  });
  tell();
}
