// What the server did not take as it was said: the question, and the ways out of it.
"use strict";

const benchQuestions = (() => {
  const OURS = ["client_token", "device_at", "device_offset_s"];

  function element(tag, text, className) {
    const made = document.createElement(tag);
    if (text) made.textContent = text;
    if (className) made.className = className;
    return made;
  }

  // Show the place of an element and open everything that it is folded away in, and itself.
  function unfold(inner) {
    const place = inner.closest("[data-shown-at]");
    if (place?.hidden) benchSteps.show(place.dataset.shownAt.split(" ")[0]);
    for (let fold = inner.closest("details"); fold; fold = fold.parentElement.closest("details")) fold.open = true;
  }

  const QUESTIONS = {
    changed: {
      strength: "Said in two ways",
      text: (entry) => `You: ${benchWords.said(entry)}. Meanwhile in the record: ${entry.answer.words}.`,
      yes: "Put mine in its place",
      no: "Keep the record's, drop mine",
    },
    locked: {
      strength: "Kept on this device, not in the record",
      text: (entry) => `${entry.answer.words} You: ${benchWords.said(entry)}. Show it to your TA: they can open the record again.`,
      yes: "Try again",
      no: "Drop it",
    },
    unreadable: {
      strength: "Not in the record",
      text: (entry) => `${benchWords.said(entry)}. ${entry.answer.words}`,
      yes: "Try again",
      no: "Drop it",
      correct: "Correct it",
    },
    refused: {
      strength: "Not in the record",
      text: (entry) => `${benchWords.said(entry)}. ${entry.answer.words} What was recorded after it goes on.`,
      yes: "Try again",
      no: "Drop it",
      correct: "Correct it",
    },
  };

  // `at` has the queue, and what is done once it is decided.
  function note(entry, at) {
    const asked = QUESTIONS[entry.answer.outcome];
    const made = element("div", "", "note note--loss");
    const actions = element("p", "", "actions");
    const yes = element("button", asked.yes, "button--quiet");
    const no = element("button", asked.no, "button--quiet");
    yes.type = no.type = "button";
    yes.addEventListener("click", async () => {
      const seen = [...new Set([...entry.seen, ...(entry.answer.tokens ?? [])])];
      await benchStore.put({...entry, state: "waiting", seen});
      await at.drain();
    });
    no.addEventListener("click", async () => {
      await benchStore.remove(entry.number);
      await at.show();
      at.drain();
    });
    actions.append(yes, no);
    if (asked.correct) {
      const correct = element("button", asked.correct, "button--quiet");
      correct.type = "button";
      correct.addEventListener("click", () => fillAgain(entry, at.queue));
      actions.prepend(correct);
    }
    made.append(element("span", asked.strength, "note__strength"),
      element("p", asked.text(entry), "note__what"), actions);
    return made;
  }

  // The entry's own form with what was said in it. It stays set aside until that form is recorded.
  function fillAgain(entry, queue) {
    const form = [...document.querySelectorAll("form[data-entry]")].find(
      (one) => one.dataset.entry === entry.entry && one.dataset.about === entry.about);
    if (!form) {
      location.assign(queue.offline);
      return;
    }
    unfold(form);
    for (const control of form.elements) {
      if (!control.name || OURS.includes(control.name) || control.name === "csrfmiddlewaretoken") continue;
      const said = entry.fields.filter(([name]) => name === control.name).map(([, value]) => value);
      if (["checkbox", "radio"].includes(control.type)) control.checked = said.includes(control.value);
      else if (said.length && control.type !== "submit") control.value = said[0];
    }
    form.dataset.replaces = entry.number;
    const first = [...form.elements].find((control) => control.name && !["hidden", "submit"].includes(control.type));
    (first ?? form).scrollIntoView({block: "center"});
    first?.focus();
  }

  return {note, element, unfold};
})();
