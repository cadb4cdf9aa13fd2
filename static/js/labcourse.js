// Improves what works without it. Nothing here is needed for any task.
"use strict";

// A live part that fails says so in the status region instead of failing silently.
document.addEventListener("htmx:responseError", () => announce(
  "The page could not be brought up to date. Load it again; what is saved stays saved."));
document.addEventListener("htmx:sendError", (event) => {
  // At the bench and in a step of a plan what was said waits, and the page says so itself.
  if (document.getElementById("bench-queue") && event.target.closest("form[data-entry]")) return;
  if (document.getElementById("plan-drafts") && event.target.closest("form.step__form")) return;
  announce("No answer from the server. Check the connection and try again.");
});

// A field's frame follows the word on it, which is renewed alone while one types elsewhere.
document.addEventListener("htmx:oobAfterSwap", (event) => {
  const field = event.target.id?.endsWith("_says") && event.target.closest(".field");
  if (!field) return;
  const isWrong = event.target.querySelector(".errorlist") !== null;
  field.classList.toggle("field--wrong", isWrong);
  for (const control of field.querySelectorAll("input, select, textarea")) {
    if (isWrong) control.setAttribute("aria-invalid", "true");
    else control.removeAttribute("aria-invalid");
  }
});

function announce(text) {
  const region = document.getElementById("messages");
  const line = document.createElement("p");
  line.className = "message message--error";
  line.textContent = text;
  region.replaceChildren(line);
}
