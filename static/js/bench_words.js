// Entries of the bench in words, for the list of what waits.
"use strict";

const benchWords = (() => {
  // A field in words: "gross", "51.24 g", "Volume of each portion 30 mL".
  function wordsOfField(field) {
    if (field.tagName === "SELECT") return field.selectedOptions[0].textContent.trim();
    const label = field.labels[0]?.textContent.trim() ?? field.name;
    if (field.type === "radio") return label.split(":")[0];
    if (field.type === "checkbox") return label;
    const [, what, unit] = label.match(/^(.*), (\S+)$/) ?? [null, label, ""];
    const shown = `${field.value} ${unit}`.trim();
    if (field.name === "mass") return shown;
    return field.name === "reason" ? `because: ${shown}` : `${what} ${shown}`;
  }

  function of(form, button) {
    const said = [];
    for (const field of form.elements) {
      if (!field.name || field.type === "hidden" || field.tagName === "BUTTON" || !field.value) continue;
      if (["radio", "checkbox"].includes(field.type) && !field.checked) continue;
      if (!["on_pan", "after"].includes(field.name)) said.push(wordsOfField(field));
    }
    if (button?.name === "mark") said.push(button.value === "open" ? "taken back" : button.value);
    return `${form.dataset.words}: ${said.join("; ")}`;
  }

  function isReading(entry) {
    return !["mark", "change", "add"].includes(entry.entry);
  }

  function many(count, one, more) {
    return `${count} ${count === 1 ? one : more}`;
  }

  function count(entries) {
    const readings = entries.filter(isReading).length;
    const steps = entries.length - readings;
    const parts = [];
    if (readings) parts.push(many(readings, "reading", "readings"));
    if (steps) parts.push(many(steps, "step", "steps"));
    return parts.join(" and ");
  }

  function clock(ms) {
    return new Date(ms).toLocaleTimeString("en-GB", {hour: "2-digit", minute: "2-digit"});
  }

  // What an entry says, and when it was said.
  function said(entry) {
    return `${entry.words} (${clock(entry.deviceAt + (entry.offsetMs ?? 0))})`;
  }

  return {of, count, many, clock, said};
})();
