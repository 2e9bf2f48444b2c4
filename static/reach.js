// The sign on every page: whether the laptop is in reach, what waits on this
// device, and when it was last in step. It also puts the service worker in
// place and delivers what waits, on every occasion there is.

import { flush, records, thisBook, watch } from "./outbox.js";
import { isWith } from "./whose.js";

const every = 30000; // ms between looks
const html = document.documentElement;
const cached = html.dataset.cached !== undefined;
const state = { reach: !cached, waiting: 0, refused: 0, signIn: "", said: "" };
const callbacks = [];

// onReach calls back with whether the laptop is in reach, now and whenever
// that changes.
export function onReach(callback) {
  callbacks.push(callback);
  callback(state.reach);
}

// contact asks the laptop whether it is there, and waits no longer than ms.
export async function contact(ms = 3000) {
  let there = false;
  try {
    there = (await fetch("/health", { cache: "no-store", signal: AbortSignal.timeout(ms) })).ok;
  } catch { /* out of reach */ }
  setReach(there);
  return there;
}

function setReach(there) {
  if (state.reach === there) return;
  state.reach = there;
  callbacks.forEach((c) => c(there));
  draw();
}

// look asks, and delivers where there is an answer.
export async function look() {
  if (!await contact()) return;
  navigator.serviceWorker?.controller?.postMessage({ type: "fresh" });
  await count();
  if (state.waiting > 0) {
    const answer = await flush().catch((err) => ({ stopped: "This device could not write down what became of it (" + err.name + "): make space. Nothing is lost, and nothing is doubled." }));
    state.signIn = answer.signIn ?? "";
    state.said = answer.stopped ?? "";
    if (answer.contact === false) setReach(false);
    await count();
  }
  if (state.reach && state.waiting === 0) remember("step", new Date().toISOString());
  draw();
}

async function count() {
  try {
    const mine = (await records()).filter((r) => r.book === thisBook());
    state.waiting = mine.filter((r) => r.state === "waiting").length;
    state.refused = mine.filter((r) => r.state === "refused").length;
  } catch { /* a browser that keeps nothing has nothing waiting */ }
  draw();
}

const sign = document.getElementById("reach");
function draw() {
  if (!sign) return;
  const words = [];
  if (state.waiting > 0) words.push(state.waiting + (state.waiting === 1 ? " waits" : " wait"));
  if (state.refused > 0) words.push(state.refused + " refused");
  if (words.length === 0) words.push("nothing waits");
  set("[data-reach]", state.reach ? "In reach" : "Out of reach");
  set("[data-count]", words.join(", "));
  set("[data-said]", state.signIn && state.waiting ? "sign in to deliver" : state.said);
  set("[data-step]", stepText());
  const signIn = sign.querySelector("[data-said]");
  if (state.signIn) signIn.setAttribute("href", state.signIn); else signIn.removeAttribute("href");
  sign.classList.toggle("out", !state.reach);
  sign.classList.toggle("busy", state.waiting + state.refused > 0);
  html.classList.toggle("away", !state.reach);
  sign.hidden = false;
}

// set writes only what changed, so that a reader hears it once.
function set(selector, text) {
  const at = sign.querySelector(selector);
  if (at.textContent !== text) at.textContent = text;
}

function stepText() {
  const step = recall("step");
  return step ? (state.reach ? "in step " : "last in step ") + moment(step) : "not in step yet";
}

// moment writes a time as the device's clock has it, the day only where it is
// not today.
export function moment(iso) {
  const t = new Date(iso), two = (n) => String(n).padStart(2, "0");
  const day = (d) => d.getFullYear() + "-" + two(d.getMonth() + 1) + "-" + two(d.getDate());
  const clock = two(t.getHours()) + ":" + two(t.getMinutes());
  return day(t) === day(new Date()) ? clock : day(t) + " " + clock;
}

function remember(name, text) {
  try { localStorage.setItem("barrelbook." + name, text); } catch { /* only the sign says less */ }
}

function recall(name) {
  try { return localStorage.getItem("barrelbook." + name); } catch { return null; }
}

// A browser that cannot have a worker here still delivers while a page is open.
async function putWorker() {
  if (!navigator.serviceWorker) return;
  const controlled = navigator.serviceWorker.controller !== null;
  try {
    await navigator.serviceWorker.register("/sw.js", { type: "module", updateViaCache: "none" });
    const ready = await navigator.serviceWorker.ready;
    if (!controlled) ready.active.postMessage({ type: "keep", page: location.pathname + location.search });
  } catch { /* the certificate is not trusted, or the browser is too old */ }
}

// A form that got no answer stays on its page; one that cannot wait says so.
if (sign && "BroadcastChannel" in window && !document.querySelector("form[data-waits]")) {
  new BroadcastChannel("barrelbook-unanswered").onmessage = (event) => {
    if (![...document.forms].some((f) => new URL(f.action).pathname === event.data)) return;
    state.said = "The laptop did not answer. What you typed is still here: send it again when the laptop is back.";
    setReach(false);
    draw();
  };
}

// Where no worker saw it, the sign-in that asks for a name tells that nobody is
// signed in any more.
if (!cached && location.pathname === "/sign-in" && html.dataset.whose === undefined) isWith("");

if (sign) {
  watch(count);
  window.addEventListener("online", look);
  window.addEventListener("offline", () => setReach(false));
  document.addEventListener("visibilitychange", () => { if (!document.hidden) look(); });
  setInterval(() => { if (!document.hidden || state.waiting > 0) look(); }, every);
  putWorker();
  navigator.storage?.persist?.().catch(() => {});
  count().then(look);
}
