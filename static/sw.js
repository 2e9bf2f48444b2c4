// The service worker: with it the pages that were used on a device, and those
// that the laptop names as likely to be needed, open when it is out of reach.
// It keeps files and pages of one build and one book together; those of the
// build before go when the new ones are all here. It never keeps an answer to
// anything but a GET of the same site.

import { flush, keeper, setBook } from "./outbox.js";
import { isWith, leftOff, leftOn, signOutFirst } from "./whose.js";

const patience = 4000; // ms for a page that is kept too
const longPatience = 15000; // ms for a sheet that is sent
const refresh = 5 * 60 * 1000; // ms between the rounds that keep pages fresh
const mostPages = 1000; // well above what the laptop lists
const mark = "/.fresh"; // holds the time of the last round
const nobodys = "/.waiting"; // the page Waiting as it is for nobody
const owner = "/.whose"; // says whom the pages of a cache are for, and what they may read
const gone = [403, 404, 410]; // answers after which a page is not shown from memory any more
let name, build, forms;
let era = 0; // of who is signed in: what was asked for in an earlier one is not kept

// work is called by /sw.js, which names the build, the book and the forms that
// can wait in the outbox.
export function work(ofBuild, book, patterns) {
  build = ofBuild;
  name = "barrelbook-" + build + "-" + book;
  forms = patterns.map((p) => new RegExp(p));
  setBook(book);
  self.addEventListener("install", (event) => event.waitUntil(install()));
  self.addEventListener("activate", (event) => event.waitUntil(activate()));
  self.addEventListener("fetch", answer);
  self.addEventListener("message", (event) => event.waitUntil(told(event.data)));
  self.addEventListener("sync", (event) => event.waitUntil(flush().then((a) => { if (a.contact === false) throw new Error("out of reach"); })));
}

// install gets all files of the build, and the pages, before anything of the
// old build is given up. Without the laptop it fails, and the old one stays.
async function install() {
  const cache = await caches.open(name);
  const list = await getList();
  await Promise.all(list.files.map(async (file) => {
    const response = await fetch(file, { cache: "no-store" });
    if (!response.ok) throw new Error(file + ": " + response.status);
    await cache.put(file, response);
  }));
  const page = await fetch("/waiting", { cache: "no-store", credentials: "omit", headers: { "Barrelbook-Nobody": "1" } });
  await cache.put(nobodys, stamped(await page.text(), page.headers));
  const used = [];
  for (const old of await oldNames()) {
    for (const request of await (await caches.open(old)).keys()) {
      if (isPage(new URL(request.url))) used.push(pageOf(request.url));
    }
  }
  await keepAll([...list.pages, ...used]);
  await getList().catch(() => {}); // whoever is signed in by now
  await self.skipWaiting();
}

async function activate() {
  await Promise.all((await oldNames()).map((old) => caches.delete(old)));
  await self.clients.claim();
  await getList().catch(() => {}); // a hand-over before now was not seen here
}

async function oldNames() {
  return (await caches.keys()).filter((n) => n.startsWith("barrelbook-") && n !== name);
}

async function getList() {
  const began = era;
  const response = await fetch("/offline.json", { cache: "no-store", headers: keeper });
  if (response.status === 401 && era === began) await forget();
  if (!response.ok || response.redirected) {
    await response.text(); // an answer that is left unread holds up the next
    throw new Error("no list of pages");
  }
  const list = await response.json();
  if (era !== began) throw new Error("another person meanwhile");
  await keptFor(list.whose, list.may);
  return list;
}

// keptFor drops the pages that were kept for somebody else, or for the same
// person while they might read others.
async function keptFor(id, may) {
  const cache = await caches.open(name), was = await cache.match(owner), now = id + " " + may;
  if (was && await was.text() !== now) await forget(id);
  else await isWith(id);
  await cache.put(owner, new Response(now));
}

async function told(message) {
  await signOutFirst();
  if (message?.type === "keep") await keepAll([pageOf(message.page)]);
  if (message?.type !== "fresh") return;
  const cache = await caches.open(name);
  const last = await cache.match(mark);
  const pages = (await getList()).pages;
  if (last && Date.now() - Number(await last.text()) < refresh) {
    // a job may have been opened meanwhile
    const kept = new Set((await cache.keys()).map((r) => r.url));
    await keepAll(pages.filter((page) => !kept.has(new URL(page, self.location).href)));
    return;
  }
  for (const page of await self.clients.matchAll({ type: "window" })) {
    pages.push(pageOf(page.url)); // what is being worked on
  }
  await cache.put(mark, new Response(String(Date.now())));
  await keepAll(pages);
}

// forget drops every page, for nobody is signed in here any more, or somebody
// else, and has the open ones covered that are not theirs. What waits in the
// outbox is not touched, and its page is kept as it is for nobody.
async function forget(next = "") {
  era++;
  for (const each of await caches.keys()) {
    if (!each.startsWith("barrelbook-")) continue;
    const cache = await caches.open(each);
    const page = await cache.match(nobodys, { ignoreVary: true });
    const shown = page && await cache.put("/waiting", page).then(() => true, () => false); // at no moment is there none to show, save without space
    for (const request of await cache.keys()) {
      const path = new URL(request.url).pathname;
      if (!path.startsWith("/static/") && path !== nobodys && !(shown && path === "/waiting")) await cache.delete(request);
    }
  }
  await isWith(next);
}

// signedOut reports an answer which says that nobody is signed in.
function signedOut(response) { return response.headers.has("Barrelbook-Signed-Out"); }

// keepAll gets pages anew, each once and a few at a time; one that does not come
// stays as it was.
async function keepAll(pages) {
  const left = [...new Set(pages)], began = era;
  const some = async () => {
    for (let page = left.shift(); page !== undefined && era === began; page = left.shift()) {
      try {
        await keep(page, await fetch(page, { cache: "no-store", headers: keeper }), began);
      } catch { /* the next round */ }
    }
  };
  await Promise.all([some(), some()]);
}

// pageOf is the address that a page is kept under: a sheet that is opened to
// change one that waits is the same page.
function pageOf(address) {
  const url = new URL(address, self.location);
  if (url.searchParams.has("waiting")) url.searchParams.delete("waiting");
  return url.pathname + url.search;
}

function isPage(url) { return !url.pathname.startsWith("/static/") && !url.pathname.startsWith("/."); }

// keep keeps a whole page, without what it had to say once, and drops one that is
// no more, or not for who asks. A page of another build needs other files, and is
// for the next worker to keep.
async function keep(address, response, began) {
  if (gone.includes(response.status) && era === began) await (await caches.open(name)).delete(address);
  if (signedOut(response) || response.status !== 200 || response.redirected || response.type !== "basic" || !response.headers.get("Content-Type")?.startsWith("text/html")) {
    await response.text(); // an answer that is left unread holds up the next
    return;
  }
  const text = (await response.text()).replace(/<p class="flash"[^>]*>[^]*?<\/p>/, "");
  if (!text.includes(`data-build="${build}"`)) {
    await self.registration.update();
    return;
  }
  const cache = await caches.open(name);
  if (era !== began) return;
  await cache.put(address, stamped(text, response.headers));
  const pages = (await cache.keys()).filter((r) => isPage(new URL(r.url)));
  for (const request of pages.slice(0, Math.max(0, pages.length - mostPages))) await cache.delete(request);
}

// stamped is a page to be kept, with the time.
function stamped(text, from) {
  const headers = new Headers(from);
  headers.delete("Content-Encoding");
  headers.delete("Content-Length");
  headers.set("Barrelbook-Kept", new Date().toISOString());
  return new Response(text, { headers });
}

function answer(event) {
  const request = event.request, url = new URL(request.url);
  if (url.origin !== self.location.origin) return;
  if (request.method === "POST" && request.mode === "navigate") event.respondWith(send(request, url));
  else if (request.method === "POST" && url.pathname === "/sign-out") event.respondWith(leave(request));
  if (request.method !== "GET") return;
  if (url.pathname.startsWith("/static/")) event.respondWith(file(request, url));
  else if (request.mode === "navigate") event.respondWith(page(event, request));
}

// file is one of this build, or else the laptop's.
async function file(request, url) {
  const kept = await (await caches.open(name)).match(request, { ignoreVary: true });
  if (kept) return kept;
  try {
    return await fetch(request);
  } catch (err) {
    // asked for without its version, as in the app's description
    const near = await (await caches.open(name)).match(url.pathname, { ignoreVary: true, ignoreSearch: true });
    if (near) return near;
    throw err;
  }
}

// page is the laptop's, or where it does not answer soon the one that is kept.
async function page(event, request) {
  const cache = await caches.open(name), began = era, address = pageOf(request.url);
  const kept = await cache.match(address, { ignoreVary: true });
  const fresh = ask(request).then((response) => {
    event.waitUntil((signedOut(response) && era === began ? forget() : keep(address, response.clone(), began)).catch(() => {}));
    return response;
  });
  event.waitUntil(fresh.catch(() => {}));
  try {
    return kept ? await soon(fresh, patience) : await fresh;
  } catch {
    return fromMemory(kept ?? await cache.match("/waiting", { ignoreVary: true }));
  }
}

// ask gets a page of the laptop. While the worker starts, the browser has asked
// for it already, with the cookie of whoever was signed in: after a sign-out
// that the laptop had to be told of first, that answer is not taken.
async function ask(request) {
  if (!await signOutFirst()) return fetch(request);
  await forget();
  const url = new URL(request.url);
  return Response.redirect("/sign-in?" + new URLSearchParams({ to: url.pathname + url.search }), 303);
}

function soon(promise, ms) {
  return Promise.race([promise, new Promise((_, no) => setTimeout(() => no(new Error("too late")), ms))]);
}

// fromMemory is a kept page that says so.
async function fromMemory(kept) {
  if (!kept) return Response.error();
  const time = kept.headers.get("Barrelbook-Kept");
  const when = new Date(time).toLocaleString("sv").slice(0, 16); // 2006-01-31 15:04
  const text = (await kept.text())
    .replace("<html ", `<html data-cached="${time}" `)
    .replace(/(<main [^>]*>)/, `$1<p class="from-cache">Shown from this device's memory, as the book was on ${when}.</p>`);
  return new Response(text, { headers: kept.headers });
}

// leave sends a sign-out of a script.
async function leave(request) {
  const response = await fetch(request);
  if (signedOut(response)) await forget();
  return response;
}

// send sends a form. Where no answer comes the page stays as it is (204), with
// all that was typed, and is told.
async function send(request, url) {
  if (url.pathname === "/sign-out") return handOver(request);
  const waits = forms.some((f) => f.test(url.pathname));
  try {
    const answered = signOutFirst().then(() => fetch(request));
    const response = await (waits ? soon(answered, longPatience) : answered);
    if (url.pathname === "/sign-in" && (response.type === "opaqueredirect" || signedOut(response))) await forget(); // perhaps another person
    return response;
  } catch {
    const channel = new BroadcastChannel("barrelbook-unanswered");
    channel.postMessage(url.pathname);
    channel.close();
    return new Response(null, { status: 204 });
  }
}

// handOver signs out by the button: on this device at once, and at the laptop
// now, or later where it does not answer.
async function handOver(request) {
  await forget();
  const noted = await leftOn().then(() => true, () => false);
  try {
    const response = await soon(fetch(request), patience);
    if (noted && (response.type === "opaqueredirect" || signedOut(response))) await leftOff();
    return response;
  } catch {
    if (noted) return Response.redirect("/waiting", 303);
    return new Response("The laptop is out of reach, and this device has no space left to note that you signed out: you are signed in still. Make space and hand over again, or bring it back in reach.",
      { status: 507, headers: { "Content-Type": "text/plain; charset=utf-8" } });
  }
}
