// Signing out while the laptop is out of reach: this device notes it, shows
// nothing of the book from then on, and tells the laptop before it asks it for
// anything else.

const note = "/.left", place = "signed-out"; // a cache that no new version takes away

// leftOn notes that somebody signed out, leftOff that the laptop knows.
export async function leftOn() { await (await caches.open(place)).put(note, new Response("")); }
export function leftOff() { return caches.delete(place); }

let telling; // one at a time, and whoever asks meanwhile learns what came of it

// signOutFirst tells the laptop of a sign-out that is noted, and whether one
// was. It throws while the laptop cannot be told.
export function signOutFirst() {
  telling ??= tellLaptop().finally(() => { telling = undefined; });
  return telling;
}

async function tellLaptop() {
  if (!globalThis.caches || !await caches.match(note)) return false;
  const response = await fetch("/sign-out", { method: "POST", headers: { Accept: "application/json" }, body: new URLSearchParams() });
  if (!response.ok) throw new Error("sign-out: " + response.status);
  await leftOff();
  return true;
}
