// The placing of a job: a changed line is judged at once, as the button does.
// The field that was changed keeps the focus.

const form = document.querySelector("form[data-judge]");
if (form) {
  const changed = form.querySelector(location.hash || "#none");
  if (changed) changed.focus();
  form.addEventListener("change", (event) => {
    if (event.target.tagName !== "SELECT") return;
    form.action = form.action.split("#")[0] + "#" + event.target.id;
    form.requestSubmit(form.querySelector("button[value=judge]"));
  });
}
