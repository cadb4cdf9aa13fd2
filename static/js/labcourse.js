// Improves what works without it. Nothing here is needed for any task.
"use strict";

// A live part that fails says so in the status region instead of failing silently.
document.addEventListener("htmx:responseError", () => announce(
  "The page could not be brought up to date. Load it again; what is saved stays saved."));
document.addEventListener("htmx:sendError", (event) => {
  // At the bench the entry waits in the queue, and the page says so itself.
  if (document.getElementById("bench-queue") && event.target.closest("form[data-entry]")) return;
  announce("No answer from the server. Check the connection and try again.");
});

function announce(text) {
  const region = document.getElementById("messages");
  const line = document.createElement("p");
  line.className = "message message--error";
  line.textContent = text;
  region.replaceChildren(line);
}
