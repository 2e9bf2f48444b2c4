// Signing out while the laptop is out of reach: this device notes it, shows
// nothing of the book from then on, and tells the laptop before it asks it for
// anything else.

const note = "/.left", place = "signed-out"; // a cache that no new version takes away

// leftOn notes that somebody signed out, leftOff that the laptop knows.
export async function leftOn() { await (await caches.open(place)).put(note, new Response("")); }
export function leftOff() { return caches.delete(place); }

// signOutFirst tells the laptop of a sign-out that is noted, if one is. It
// throws while the laptop cannot be told.
export async function signOutFirst() {
  if (!globalThis.caches || !await caches.match(note)) return;
  const response = await fetch("/sign-out", { method: "POST", headers: { Accept: "application/json" }, body: new URLSearchParams() });
  if (!response.ok) throw new Error("sign-out: " + response.status);
  await leftOff();
}
