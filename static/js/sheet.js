// The printed sheet being typed in: Enter goes to the next field instead of sending half a sheet,
// and what is typed outlives a reload. Each of the two times has a place of its own, in this tab
// only; a page of one time throws away what is kept of the other.
"use strict";

(() => {
  const form = document.getElementById("sheet-form");
  if (!form) return;

  const PLACE = `sheet ${location.pathname} `;
  const place = PLACE + form.dataset.turn;
  const fields = [...form.elements].filter((field) => field.name && field.type !== "hidden" && field.type !== "submit");

  function keep() {
    const typed = fields
      .filter((field) => (field.type === "radio" || field.type === "checkbox") ? field.checked : field.value)
      .map((field) => [field.name, field.value]);
    try {
      sessionStorage.setItem(place, JSON.stringify(typed));
    } catch {
      // Without room or leave to keep it the page works as it does without this script.
    }
  }

  function putBack() {
    const typed = JSON.parse(sessionStorage.getItem(place) ?? "null");
    if (typed === null) return;
    const said = new Set(typed.map(([name, value]) => `${name} ${value}`));
    const values = new Map(typed);
    for (const field of fields) {
      if (field.type === "radio" || field.type === "checkbox") field.checked = said.has(`${field.name} ${field.value}`);
      else field.value = values.get(field.name) ?? "";
      if (field.value && field.type !== "radio" && field.type !== "checkbox") field.closest("details")?.setAttribute("open", "");
    }
  }

  function goOn(event) {
    if (event.key !== "Enter" || event.target.type === "submit" || event.target.tagName !== "INPUT") return;
    event.preventDefault();
    const seen = [...form.elements].filter((field) => field.type !== "hidden" && field.checkVisibility());
    seen[seen.indexOf(event.target) + 1]?.focus();
  }

  for (const key of Object.keys(sessionStorage)) {
    if (key.startsWith(PLACE) && key !== place) sessionStorage.removeItem(key);
  }
  for (const field of fields) if (field.tagName === "INPUT") field.enterKeyHint = "next";
  putBack();
  form.addEventListener("input", keep);
  form.addEventListener("keydown", goOn);
})();
