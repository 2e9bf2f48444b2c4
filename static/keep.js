// A sheet that can be filled in out of reach. In reach it is sent as any form.
// When the laptop does not answer it goes to the outbox, with all that was
// typed, and from there to the laptop later. Without this file the form is
// sent, and needs the laptop.

import { delivered, deviceName, find, flush, hold, newUID, put, thisBook, watch, welcome } from "./outbox.js";
import { farFromLimits, sizeOf } from "./beside.js";
import { still } from "./cover.js";
import { clearFaults, labelText, link, showFaults } from "./faults.js";
import { parse } from "./quantity.js";
import { contact, onReach } from "./reach.js";

const form = document.querySelector("form[data-waits]");
const html = document.documentElement;
let editing = false; // the form holds a record of the outbox
let release = () => {}; // lets that be delivered
let busy = false;
let away = false;
let sure = false; // it is to be saved all the same
let sent = false; // by the browser, and not answered yet

if (form) {
  form.addEventListener("submit", submitted);
  onReach((there) => {
    away = !there;
    for (const note of document.querySelectorAll("[data-away]")) note.hidden = there;
  });
  // a worker that got no answer to the form says so here
  if ("BroadcastChannel" in window) {
    new BroadcastChannel("barrelbook-unanswered").onmessage = (event) => {
      if (!sent || busy || event.data !== new URL(form.action).pathname) return; // that of another tab, perhaps
      sent = false;
      guarded(() => contact().then(keep));
    };
  }
  // in the query, which a sign-in that comes between leads back to
  const waiting = new URLSearchParams(location.search).get("waiting");
  if (waiting) edit(waiting);
  // a page from the worker's memory was perhaps sent before
  else if (html.dataset.cached !== undefined) {
    form.elements.uid.value = newUID();
    // and its date is that of the day it was kept
    if (form.elements.day.value === form.elements.day.defaultValue) form.elements.day.value = today();
  }
}

function today() {
  const now = new Date();
  return new Date(now - now.getTimezoneOffset() * 60000).toISOString().slice(0, 10);
}

function submitted(event) {
  event.preventDefault();
  guarded(async () => {
    const there = await contact();
    if (there && !editing && await welcome()) { // without a sign-in it would be nowhere but in that page
      sent = true;
      form.submit();
    } else await keep();
  });
}

// guarded does one work at a time, and none on a page whose person has handed
// this device over: what is put away there would be in their name.
async function guarded(work) {
  if (busy) return;
  busy = true;
  try {
    if (await still()) await work();
    else form.dispatchEvent(new Event("input")); // it is unsaved still
  } finally {
    busy = false;
  }
}

// keep puts the sheet into the outbox, and from there to the laptop where it
// is in reach. Out of reach, what the laptop would refuse is asked for first:
// who has it at hand now may not have it then.
async function keep() {
  const record = read();
  clearFaults(form);
  const wrong = away && !sure ? foreseen() : [];
  sure = false;
  if (wrong.length > 0) {
    offer(showFaults(form, wrong, "Not saved yet"));
    form.dispatchEvent(new Event("input")); // it is unsaved still
    return;
  }
  try {
    await put(record);
  } catch (err) {
    say(err.name === "QuotaExceededError"
      ? "Not saved: this device has no space left. What you typed is still here. Make space, or bring the laptop back in reach, then save again."
      : "Not saved: this browser keeps nothing (" + err.name + "). What you typed is still here. Bring the laptop back in reach, then save again.");
    form.dispatchEvent(new Event("input")); // it is unsaved still
    return;
  }
  editing = true;
  release();
  if (await contact()) await flush().catch(() => {}); // it waits, then
  const left = await find(record.uid);
  if (!left) {
    location.href = (await delivered()).find((d) => d.uid === record.uid)?.to ?? "/waiting";
  } else if (left.state === "refused") {
    showFaults(form, left.faults);
  } else if (navigator.serviceWorker?.controller) {
    location.href = "/waiting#" + record.uid;
  } else {
    say("Saved on this device. It waits here, and is delivered when the laptop is back in reach. Leave this page open until then: without the laptop it cannot be opened again.");
  }
}

// foreseen is what the laptop will refuse, as far as this page can tell:
// needed fields that are empty, numbers that cannot be read or cannot be meant,
// and hours that run backwards.
function foreseen() {
  const wrong = [...form.querySelectorAll("[aria-required=true]")].filter((field) => field.value.trim() === "")
    .map((field) => ({ field: field.name, message: "is empty, and the laptop will refuse the sheet without it" }));
  for (const field of form.querySelectorAll("input[inputmode=decimal], input[inputmode=numeric], [data-unit]")) {
    const text = field.value.trim();
    if (text && (field.name === "hours" ? hours(text) : field.dataset.unit ? sizeOf(field) : parse(text, "")) === null) {
      wrong.push({ field: field.name, message: "cannot be read as a number, and the laptop will refuse it" });
    } else if (text && field.dataset.unit && farFromLimits(field)) {
      wrong.push({ field: field.name, message: "is far from the limits beside it, and the laptop will refuse it: is the decimal point right?" });
    }
  }
  const { lastHours, lastDay } = form.dataset;
  const shown = hours(form.elements.hours?.value ?? "");
  if (lastDay && shown !== null && shown < hours(lastHours) && form.elements.day.value >= lastDay) {
    wrong.push({ field: "hours", message: `the meter showed ${lastHours} h on ${lastDay} already, and the laptop will refuse hours that run backwards` });
  }
  return wrong;
}

// hours are read as plainHours in server/form.go does; null for what it refuses.
function hours(text) {
  text = text.trim();
  return parse(/^[1-9]\d{0,2}(,\d{3})+(\.\d*)?$/.test(text) ? text.replaceAll(",", "") : text, "");
}

// offer lets a person save what they cannot complete here.
function offer(box) {
  const line = document.createElement("p");
  line.className = "actions";
  const save = document.createElement("button");
  save.type = "button";
  save.className = "button";
  save.textContent = "Save it all the same";
  save.addEventListener("click", () => {
    sure = true;
    form.requestSubmit();
  });
  line.append(save, "It waits on this device, and can be completed there.");
  box.append(line);
}

// read is the sheet as the outbox keeps it.
function read() {
  const fields = {}, labels = {}, sizes = {};
  for (const [name, value] of new FormData(form)) {
    if (name in fields || typeof value !== "string") continue;
    fields[name] = value;
    const field = form.elements[name];
    if (value && field?.type !== "hidden") labels[name] = labelOf(field);
    const size = field?.dataset?.unit && sizeOf(field);
    if (size) sizes[name] = size.toString();
  }
  return {
    uid: fields.uid, format: Number(form.dataset.format), form: new URL(form.action).pathname, what: form.dataset.waits,
    fields, labels, sizes, book: thisBook(), page: html.dataset.build, device: deviceName(), person: html.dataset.person ?? "", time: new Date().toISOString(),
  };
}

function labelOf(field) {
  if (field instanceof RadioNodeList) return field[0].closest("fieldset")?.querySelector("legend")?.textContent.trim() ?? "";
  const own = labelText(field) || field.name;
  const part = field.closest(".sheet-part")?.querySelector("h2 a")?.textContent;
  return part ? part + ", " + own : own;
}

// edit puts a record of the outbox back into the form. It is not delivered
// meanwhile; where it was on its way already, the page says so.
async function edit(uid) {
  release = hold(uid);
  const record = await find(uid);
  if (!record) {
    say("That sheet no longer waits on this device.");
    form.elements.uid.value = newUID();
    return;
  }
  editing = true;
  watch(async () => {
    if (busy || await find(uid)) return;
    const to = (await delivered()).find((d) => d.uid === uid)?.to;
    say(to ? "This sheet was delivered meanwhile. What is changed here now is not saved: correct it in the book." : "This sheet was discarded. What stands here is not saved.", to);
  });
  for (const box of form.querySelectorAll("input[type=checkbox]")) box.checked = false;
  for (const [name, value] of Object.entries(record.fields)) {
    if (!fill(form.elements[name], value) && value) carry(name, value, record.labels?.[name] ?? name);
  }
  form.querySelector("details.rare")?.setAttribute("open", "");
  form.dispatchEvent(new Event("input"));
  if (record.faults?.length) showFaults(form, record.faults);
  else say("This sheet waits on this device. Change what you like and save it again; it keeps its place.");
}

function fill(field, value) {
  if (!field) return false;
  if (field.type === "checkbox") field.checked = field.value === value;
  else field.value = value;
  return field.type === "checkbox" ? field.checked : field.value === value;
}

// carry keeps what was typed and has no field on this page, until a person
// leaves it out.
function carry(name, value, label) {
  const line = document.createElement("p");
  line.className = "carried";
  const out = document.createElement("button");
  out.type = "button";
  out.className = "button";
  out.textContent = "Leave it out";
  out.addEventListener("click", () => line.remove());
  const hidden = document.createElement("input");
  Object.assign(hidden, { type: "hidden", name, value, id: "f-" + name });
  line.append(`“${value}” was typed for “${label}”, which has no field on this sheet now. `, out, hidden);
  form.prepend(line);
}

function say(words, to) {
  let at = document.getElementById("keep-said");
  if (!at) {
    at = document.createElement("p");
    at.id = "keep-said";
    at.className = "flash";
    at.setAttribute("role", "alert");
    form.before(at);
  }
  at.textContent = words;
  if (to) at.append(" ", link(to, "Open the one in the book"));
  at.scrollIntoView({ block: "center" });
}
