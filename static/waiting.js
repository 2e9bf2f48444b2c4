// The page of what waits on this device, drawn from its outbox, with or
// without the laptop.

import { delivered, deviceName, discard, held, records, setDeviceName, thisBook, watch } from "./outbox.js";
import { link } from "./faults.js";
import { look, moment } from "./reach.js";

const place = document.getElementById("waiting");
if (place) {
  place.hidden = false;
  watch(draw);
  draw();
  device();
  pages();
  const asked = new URL(location.href).pathname;
  if (asked !== "/waiting") {
    // the worker shows this page in place of one it does not have
    const words = document.getElementById("not-kept");
    words.hidden = false;
    words.textContent = "The laptop is out of reach, and " + (document.getElementById("hand-over")
      ? asked + " was never opened on this device. What can be opened is listed below."
      : "nobody is signed in on this device: its pages open again after a sign-in. What waits here is listed below.");
  }
  document.getElementById("deliver-now").addEventListener("click", () => look().then(draw));
  document.addEventListener("visibilitychange", draw); // a tab may have been closed
}

// draw shows what waits and what was delivered. What is drawn already stays, with
// what is open or has the focus in it.
let drawn;
async function draw() {
  let all, gone, open;
  try {
    const isHeld = await held();
    [all, gone] = [await records(), await delivered()];
    open = all.filter((r) => isHeld(r.uid)).map((r) => r.uid);
  } catch (err) {
    drawn = undefined;
    document.getElementById("outbox-list").replaceChildren(text("p", "This browser keeps nothing (" + err.name + "), so nothing waits in it."));
    return;
  }
  const now = JSON.stringify([all, gone, open]);
  if (now === drawn) return;
  drawn = now;
  list("outbox-list", all.map((r) => record(r, open.includes(r.uid))), "Nothing waits on this device.");
  list("delivered-list", gone.map((d) => {
    const item = document.createElement("li");
    item.append(link(d.to, d.what), " " + moment(d.at));
    return item;
  }), "Nothing yet.");
  document.getElementById("deliver-now").hidden = all.length === 0;
}

function list(id, items, none) {
  const ul = document.createElement("ul");
  ul.className = "waiting-list";
  ul.append(...items);
  document.getElementById(id).replaceChildren(items.length > 0 ? ul : text("p", none));
}

// record is one line of the outbox: what it is, what was typed, and what was
// wrong with it.
function record(r, open) {
  const item = document.createElement("li");
  item.id = r.uid;
  const state = text("b", r.state === "refused" ? "✕ refused" : "waiting");
  if (r.state === "refused") state.className = "bad";
  const head = document.createElement("p");
  head.append(text("b", r.what), " ", state, " saved " + moment(r.time) + (r.person ? " by " + r.person : "") + (r.book === thisBook() ? "" : ", for another book: it waits until that book is served here"));
  item.append(head);
  if (open) item.append(text("p", "It is open to be changed in another tab, and is delivered when that is saved or closed."));
  for (const fault of r.faults ?? []) {
    const line = text("p", (fault.field && r.labels?.[fault.field] ? r.labels[fault.field] + ": " : "") + fault.message);
    line.className = "error";
    if (fault.href?.startsWith("/")) line.append(" ", link(fault.href, fault.way || "Go there"));
    item.append(line);
  }
  const typed = document.createElement("details");
  typed.className = "how";
  const facts = document.createElement("ul");
  for (const [name, value] of Object.entries(r.fields)) {
    if (value && r.labels?.[name]) facts.append(text("li", r.labels[name] + ": " + value));
  }
  typed.append(text("summary", "What was typed"), facts);
  const edit = link(r.form + "?waiting=" + r.uid, r.state === "refused" ? "Correct it" : "Change it");
  edit.className = "button";
  const drop = text("button", "Discard");
  drop.type = "button";
  drop.className = "button";
  drop.addEventListener("click", () => ask(item, r, drop));
  const actions = document.createElement("p");
  actions.className = "actions";
  actions.append(edit, drop);
  item.append(typed, actions);
  return item;
}

// ask drops nothing before a person has said so twice.
function ask(item, r, drop) {
  const box = document.createElement("div");
  box.className = "caution";
  const yes = text("button", "Discard it for good");
  const no = text("button", "Keep it");
  for (const b of [yes, no]) {
    b.type = "button";
    b.className = "button";
  }
  yes.addEventListener("click", () => discard(r.uid));
  no.addEventListener("click", () => {
    box.remove();
    drop.focus();
  });
  const actions = document.createElement("p");
  actions.className = "actions";
  actions.append(yes, no);
  box.append(text("p", (r.person ? r.person + " entered it. " : "") + "What was typed is on this device alone. Was it on its way when the laptop went out of reach, it may be in the book already."), actions);
  item.querySelector(".caution")?.remove();
  item.append(box);
  no.focus();
}

async function device() {
  const form = document.getElementById("device-form");
  const said = document.getElementById("device-said");
  form.elements.device.value = deviceName();
  if (!deviceName()) said.textContent = "Not named yet.";
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    const name = form.elements.device.value.trim();
    setDeviceName(name);
    if (deviceName() !== name) said.textContent = "This browser keeps no name.";
    else said.textContent = name ? "Kept on this device." : "Not named yet.";
  });
  await about();
}

// about says what the browser does for this device.
async function about() {
  const worker = await navigator.serviceWorker?.getRegistration().catch(() => {});
  if (!worker?.active) navigator.serviceWorker?.ready.then(about);
  const lasting = await navigator.storage?.persisted?.();
  let pages = "Pages that were opened here open again without the laptop, until you sign out.";
  if (!navigator.serviceWorker) {
    pages = "This address is not trusted by the browser (no HTTPS with a trusted certificate): pages do not open without the laptop. What is saved in an open page waits all the same.";
  } else if (!document.getElementById("hand-over")) {
    pages = "Nobody is signed in here: pages of the book open without the laptop only after a sign-in.";
  } else if (!worker?.active) {
    pages = "Pages are not kept on this device yet, so they do not open without the laptop. What is saved in an open page waits all the same.";
  }
  const facts = [
    pages,
    lasting ? "The browser has promised to keep what waits here." : "The browser has not promised to keep what waits here when the device runs out of space. Deliver it soon.",
  ];
  document.getElementById("device-facts").replaceChildren(...facts.map((f) => text("li", f)));
}

// pages lists what the worker keeps.
async function pages() {
  const found = new Map();
  for (const name of globalThis.caches ? await caches.keys() : []) {
    const cache = await caches.open(name);
    for (const request of await cache.keys()) {
      const url = new URL(request.url);
      if (url.pathname.startsWith("/static/") || url.pathname.startsWith("/.")) continue;
      const title = /<title>([^<]*)<\/title>/.exec(await (await cache.match(request)).text())?.[1];
      if (title) found.set(url.pathname + url.search, new DOMParser().parseFromString(title, "text/html").body.textContent.split(" · ")[0]);
    }
  }
  const items = [...found].sort((a, b) => a[0].localeCompare(b[0], "en", { numeric: true })).map(([to, title]) => {
    const item = document.createElement("li");
    item.append(link(to, title));
    return item;
  });
  document.getElementById("kept-pages").replaceChildren(...(items.length > 0 ? items : [text("li", "None.")]));
}

function text(tag, words) {
  const e = document.createElement(tag);
  e.textContent = words;
  return e;
}
