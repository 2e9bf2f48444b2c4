// What the laptop found wrong with a sheet, at the fields it concerns, in the
// look of the page that the laptop itself would draw.

// showFaults returns the box that lists them.
export function showFaults(form, faults, what = "Not in the book yet") {
  clearFaults(form);
  const list = document.createElement("ul");
  for (const fault of faults) {
    const field = fault.field && document.getElementById("f-" + fault.field.replace(/[ .]/g, "-"));
    if (field) mark(field, fault.message);
    list.append(line(fault, field));
  }
  const box = document.createElement("section");
  box.className = "fault-summary";
  box.setAttribute("role", "alert");
  box.setAttribute("aria-labelledby", "faults");
  box.tabIndex = -1;
  const head = document.createElement("h2");
  head.id = "faults";
  head.textContent = what + ": " + (faults.length === 1 ? "one thing is wrong" : faults.length + " things are wrong");
  box.append(head, list);
  form.before(box);
  (form.querySelector("[aria-invalid=true]") ?? box).focus();
  return box;
}

export function clearFaults(form) {
  form.parentElement.querySelector(".fault-summary")?.remove();
  for (const field of form.querySelectorAll("[aria-invalid]")) {
    field.removeAttribute("aria-invalid");
    document.getElementById(field.id + "-error")?.remove();
  }
}

function mark(field, message) {
  const words = document.createElement("p");
  words.className = "error";
  words.id = field.id + "-error";
  words.textContent = message;
  (field.closest(".cell, .field, fieldset") ?? field.parentElement).append(words);
  if (!field.matches("input, select, textarea")) return;
  for (let box = field.closest("details"); box; box = box.parentElement.closest("details")) box.open = true;
  field.setAttribute("aria-invalid", "true");
  const described = (field.getAttribute("aria-describedby") ?? "").split(" ").filter((id) => id && id !== words.id);
  field.setAttribute("aria-describedby", [words.id, ...described].join(" "));
}

function line(fault, field) {
  const item = document.createElement("li");
  const label = field && labelText(field);
  if (label) {
    item.append(link("#" + field.id, label), ": " + fault.message);
  } else {
    item.append(fault.message.charAt(0).toUpperCase() + fault.message.slice(1));
  }
  if (fault.href?.startsWith("/")) item.append(" ", link(fault.href, fault.way || "Go there"));
  return item;
}

// labelText is what a field is called, without the word that it is required.
export function labelText(field) {
  const words = [...field.labels?.[0]?.childNodes ?? []].map((n) => n.textContent.trim());
  return words.filter((t) => t && t !== "required").join(", ");
}

export function link(to, text) {
  const a = document.createElement("a");
  a.href = to;
  a.textContent = text;
  return a;
}
