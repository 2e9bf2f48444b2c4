// The measuring sheet by keyboard: Enter goes to the next number, from the
// last one to the save button; Shift+Enter goes back. Leaving with numbers
// that were not saved asks first. Without this file Enter sends the form.

const form = document.querySelector("form[data-sheet]");
if (form) {
  // numbers, and with them the set sizes and the bores of gaps
  const cells = [...form.querySelectorAll('input[data-cell], input[name^="s-"], input[name^="b-"]')];
  const head = [...form.querySelectorAll("[data-head] input, [data-head] select")];
  const save = form.querySelector("[data-save]");
  let unsaved = false;
  let held = false; // Enter moved on and is still down

  form.addEventListener("keydown", (event) => {
    if (event.key !== "Enter" || event.isComposing) return;
    if (held) {
      event.preventDefault();
    } else if (event.target.matches("input, select")) {
      event.preventDefault();
      held = true;
      next(event.target, event.shiftKey ? -1 : 1).focus();
    }
  });
  form.addEventListener("keypress", (event) => {
    if (held && event.key === "Enter") event.preventDefault();
  });
  form.addEventListener("keyup", (event) => {
    if (event.key === "Enter") held = false;
  });
  window.addEventListener("blur", () => { held = false; });

  form.addEventListener("focusin", (event) => {
    if (event.target.matches("input[data-cell]")) event.target.select();
  });

  form.addEventListener("input", () => { unsaved = true; });
  form.addEventListener("submit", () => { unsaved = false; });
  window.addEventListener("beforeunload", (event) => {
    if (unsaved && navigator.userActivation?.hasBeenActive !== false) event.preventDefault();
  });

  const wrong = form.querySelector("[aria-invalid=true]");
  if (wrong) {
    unsaved = true; // it was sent and refused
    if (!location.hash) wrong.focus();
  }

  // next is the place after (by = 1) or before (by = -1) the one given: in the
  // head one field after the other, then number by number.
  function next(from, by) {
    const line = [...head, ...cells].filter(visible).concat(save);
    const at = line.indexOf(from);
    if (at >= 0) return line[Math.max(at + by, 0)];
    // another gauge: on to the next number below it
    const after = cells.find((c) => visible(c) && from.compareDocumentPosition(c) & Node.DOCUMENT_POSITION_FOLLOWING);
    return after ?? save;
  }

  function visible(element) {
    return element.checkVisibility() && element.type !== "hidden" && (element.type !== "radio" || element.checked);
  }
}
