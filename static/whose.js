// Whom this device is with, as far as it knows: who was signed in here last, or
// nobody, and whether the laptop still has to be told that somebody signed out.
// Pages that were made for anybody else are covered. A sign-out while the laptop
// is out of reach counts here at once; the laptop is told of it before it is
// asked for anything else.

const place = "signed-out"; // a cache that no new version takes away
const left = "/.left", owner = "/.whose";

// leftOn notes that somebody signed out, leftOff that the laptop knows.
export async function leftOn() { await (await caches.open(place)).put(left, new Response("")); }
export async function leftOff() { await (await caches.open(place)).delete(left); }

// whose is the id of who is signed in here, "" for nobody, undefined where that
// was never noted.
async function whose() {
  try {
    return await (await (await caches.open(place)).match(owner))?.text();
  } catch {
    return undefined; // a browser that keeps nothing
  }
}

// isWith notes whom this device is with from now on, and has the open pages of
// anybody else covered, and theirs uncovered where the laptop has just said who
// they are. Without space it is not known, rather than wrong.
export async function isWith(id, vouched = false) {
  const channel = new BroadcastChannel("barrelbook-whose");
  channel.postMessage({ whose: id, vouched });
  channel.close();
  if (await whose() === id) return;
  try {
    const cache = await caches.open(place);
    await cache.put(owner, new Response(id)).catch(() => cache.delete(owner));
  } catch { /* a browser that keeps nothing */ }
}

// wentFrom reports whether this device is no more with who had it.
export async function wentFrom(id) {
  const now = await whose();
  return now !== undefined && now !== id || await isLeft();
}

// isLeft reports whether a sign-out is noted; none is in a browser that keeps
// nothing.
async function isLeft() {
  try {
    return await (await caches.open(place)).match(left) !== undefined;
  } catch {
    return false;
  }
}

let telling; // one at a time, and whoever asks meanwhile learns what came of it

// signOutFirst tells the laptop of a sign-out that is noted, and whether one
// was. It throws while the laptop cannot be told.
export function signOutFirst() {
  telling ??= tellLaptop().finally(() => { telling = undefined; });
  return telling;
}

async function tellLaptop() {
  if (!await isLeft()) return false;
  const response = await fetch("/sign-out", { method: "POST", headers: { Accept: "application/json" }, body: new URLSearchParams() });
  if (!response.ok) throw new Error("sign-out: " + response.status);
  await leftOff();
  return true;
}
