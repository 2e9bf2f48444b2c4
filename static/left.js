// Signing out while the laptop is out of reach: this device notes it, shows
// nothing of the book from then on, and tells the laptop before it asks it for
// anything else.

const note = "/.left";

// leftOn notes in a cache that somebody signed out.
export function leftOn(cache) { return cache.put(note, new Response("")); }

// signOutFirst tells the laptop of a sign-out that is noted, if one is. It
// throws while the laptop cannot be told.
export async function signOutFirst() {
  if (!globalThis.caches || !await caches.match(note)) return;
  const response = await fetch("/sign-out", { method: "POST", headers: { Accept: "application/json" }, body: new URLSearchParams() });
  if (!response.ok) throw new Error("sign-out: " + response.status);
  for (const name of await caches.keys()) await (await caches.open(name)).delete(note);
}
