// The outbox: sheets that were filled in while the laptop was out of reach,
// kept in this browser's database until the laptop says that it has them.
//
// What holds: a record is on this device's disk before anybody is told that it
// was saved. It leaves only when the laptop answered that it is in the book,
// or when a person discards it. The laptop knows each by its uid, so that it
// may be sent any number of times. See DEVELOPERS.md.

import { signOutFirst } from "./whose.js";

const most = { records: 20, letters: 300000 }; // in one delivery
const patience = 20000; // ms for an answer
export const keeper = { "Barrelbook-Keeper": "1" }; // nobody asked: it does not count as use of the sign-in
const news = "BroadcastChannel" in globalThis ? new BroadcastChannel("barrelbook-outbox") : null;
const watchers = [];
let opened;

// book is what tells the book of this page, or of this worker, from others.
let book = globalThis.document?.documentElement.dataset.book ?? "";
export function setBook(id) { book = id; }
export function thisBook() { return book; }

// watch calls back whenever something in the outbox changed, in any tab.
export function watch(changed) { watchers.push(changed); }
if (news) news.onmessage = () => watchers.forEach((w) => w());
function tell() {
  watchers.forEach((w) => w());
  news?.postMessage("changed");
}

function open() {
  opened ??= new Promise((resolve, reject) => {
    const request = indexedDB.open("barrelbook", 1);
    request.onupgradeneeded = () => {
      request.result.createObjectStore("outbox", { keyPath: "n", autoIncrement: true }).createIndex("uid", "uid", { unique: true });
      request.result.createObjectStore("delivered", { keyPath: "n", autoIncrement: true });
    };
    request.onsuccess = () => {
      request.result.onversionchange = () => { request.result.close(); opened = undefined; };
      request.result.onclose = () => { opened = undefined; };
      resolve(request.result);
    };
    request.onerror = () => { opened = undefined; reject(request.error); };
  });
  return opened;
}

// within runs work in one transaction and waits until that is on disk.
async function within(mode, work) {
  const db = await open();
  return new Promise((resolve, reject) => {
    const all = db.transaction(["outbox", "delivered"], mode, { durability: "strict" });
    const done = {};
    all.oncomplete = () => resolve(done.value);
    all.onabort = () => reject(all.error ?? new DOMException("the database gave up", "AbortError"));
    work(all.objectStore("outbox"), all.objectStore("delivered"), (value) => { done.value = value; });
  });
}

// records lists the outbox in the order in which it was filled.
export function records() {
  return within("readonly", (outbox, _, done) => { outbox.getAll().onsuccess = (e) => done(e.target.result); });
}

export function find(uid) {
  return within("readonly", (outbox, _, done) => { outbox.index("uid").get(uid).onsuccess = (e) => done(e.target.result); });
}

// delivered lists what left for the book lately, newest first.
export function delivered() {
  return within("readonly", (_, gone, done) => { gone.getAll().onsuccess = (e) => done(e.target.result.reverse()); });
}

// put keeps a record, or what it has become, in its old place in the order.
// It throws where the device has no space left.
export async function put(record) {
  await within("readwrite", (outbox) => {
    outbox.index("uid").get(record.uid).onsuccess = (e) => {
      const old = e.target.result;
      const kept = { ...record, state: "waiting", faults: [], rev: (old?.rev ?? 0) + 1 };
      if (old) kept.n = old.n; else delete kept.n;
      outbox.put(kept);
    };
  });
  tell();
  // where the browser can, it delivers by itself when there is a network again
  globalThis.navigator?.serviceWorker?.ready.then((worker) => worker.sync?.register("outbox")).catch(() => {});
}

// discard drops a record, which only a person may ask for.
export async function discard(uid) {
  await within("readwrite", (outbox) => {
    outbox.index("uid").getKey(uid).onsuccess = (e) => { if (e.target.result !== undefined) outbox.delete(e.target.result); };
  });
  tell();
}

// flush delivers what waits, in order: one tab or worker at a time. It tells
// whether the laptop answered, where it asks to sign in, and what it said.
// While one is under way another follows it, for what was saved meanwhile.
let running, next;
export function flush() {
  if (!running) {
    running = alone(deliver).finally(() => { running = undefined; });
    return running;
  }
  next ??= running.catch(() => {}).then(() => {
    next = undefined;
    return flush();
  });
  return next;
}

async function alone(work) {
  if (!globalThis.navigator?.locks) return work(); // twice does no harm
  try {
    return await navigator.locks.request("barrelbook-outbox", { signal: AbortSignal.timeout(patience) }, work);
  } catch (err) {
    if (err.name === "TimeoutError" || err.name === "AbortError") return {}; // another tab is at it
    throw err;
  }
}

// hold keeps a record from being delivered while it is open in an editor, and
// returns what lets it go; a page that is left lets go by itself. Without locks it
// holds nothing.
export function hold(uid) {
  let release;
  const held = new Promise((done) => { release = done; });
  globalThis.navigator?.locks?.request(lockOf(uid), () => held).catch(() => {});
  return release;
}

function lockOf(uid) { return "barrelbook-editing-" + uid; }

// held returns what tells of a record whether some tab has it open to change it.
export async function held() {
  const locks = await heldLocks();
  return (uid) => locks.has(lockOf(uid));
}

async function heldLocks() {
  const { held = [] } = await globalThis.navigator?.locks?.query() ?? {};
  return new Set(held.map((lock) => lock.name));
}

async function deliver() {
  let count = most.records, last = {};
  for (;;) {
    const held = await heldLocks();
    const batch = take((await records()).filter((record) => !held.has(lockOf(record.uid))), count);
    if (batch.length === 0) return last;
    last = await send(batch);
    if (last.tooLarge && batch.length > 1) {
      count = 1;
      continue;
    }
    if (last.tooLarge) last = { contact: true, answers: [{ uid: batch[0].uid, faults: [{ field: "", message: last.stopped }] }] };
    if (!await settle(batch, last.answers ?? []) || last.stopped) return last;
  }
}

function take(all, count) {
  const batch = [];
  let letters = 0;
  for (const record of all) {
    if (record.state !== "waiting" || record.book !== book) continue;
    letters += JSON.stringify(record.fields).length;
    if (batch.length === count || batch.length > 0 && letters > most.letters) break;
    batch.push(record);
  }
  return batch;
}

async function send(batch) {
  const records = batch.map(({ format, uid, form, fields, sizes, book, page, device, person, time }) => ({ format, uid, form, fields, sizes, book, page, device: device || deviceName(), person, time }));
  try {
    await signOutFirst();
    const response = await fetch("/outbox", {
      method: "POST", headers: { "Content-Type": "application/json", ...keeper }, redirect: "manual", signal: AbortSignal.timeout(patience),
      body: JSON.stringify({ sent: new Date().toISOString(), records }),
    });
    if (response.type === "opaqueredirect") return { contact: true, signIn: "/" };
    if (response.status === 403) return { contact: true, stopped: "a mechanic must sign in to deliver" };
    const answer = await response.json();
    if (response.status === 401) return { contact: true, signIn: answer.signIn ?? "/" };
    return { ...answer, contact: true, tooLarge: response.status === 413 };
  } catch {
    return { contact: false }; // not answered, or not to the end: it waits
  }
}

// welcome tells whether the laptop would take a sheet from who is signed in
// here, by sending none; as true where it does not answer.
export async function welcome() {
  const { signIn, stopped } = await send([]);
  return !signIn && !stopped;
}

// settle does to each record what the answer says, unless it was changed on
// this device meanwhile, and tells whether there was anything to do.
async function settle(batch, answers) {
  if (!answers.some((a) => batch.some((r) => r.uid === a.uid))) return false;
  await within("readwrite", (outbox, gone) => {
    for (const answer of answers) {
      const sent = batch.find((r) => r.uid === answer.uid);
      if (!sent) continue;
      outbox.index("uid").get(answer.uid).onsuccess = (e) => {
        const now = e.target.result;
        if (answer.kept) gone.add({ uid: sent.uid, what: sent.what, to: answer.kept, at: new Date().toISOString() });
        if (!now || now.rev !== sent.rev) return;
        if (answer.kept) outbox.delete(now.n);
        else outbox.put({ ...now, state: "refused", faults: answer.faults ?? [] });
      };
    }
    gone.getAllKeys().onsuccess = (e) => e.target.result.slice(0, -30).forEach((n) => gone.delete(n));
  });
  tell();
  return true;
}

// deviceName is what this device is called in the shop, "" until it was asked.
// A browser may refuse to keep it.
export function deviceName() {
  try { return localStorage.getItem("barrelbook.device") ?? ""; } catch { return ""; }
}
export function setDeviceName(name) {
  try { localStorage.setItem("barrelbook.device", name); } catch { /* it stays without a name */ }
}

// newUID makes a UUID of version 7 (RFC 9562, 5.7): the time, then chance.
export function newUID() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  let ms = Date.now();
  for (let i = 5; i >= 0; i--) {
    bytes[i] = ms % 256;
    ms = Math.floor(ms / 256);
  }
  bytes[6] = 0x70 | bytes[6] & 0x0f;
  bytes[8] = 0x80 | bytes[8] & 0x3f;
  const hex = Array.from(bytes, (b) => b.toString(16).padStart(2, "0")).join("");
  return hex.replace(/^(.{8})(.{4})(.{4})(.{4})/, "$1-$2-$3-$4-");
}
