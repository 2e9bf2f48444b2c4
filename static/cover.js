// Covers the page when nobody has touched it, in any tab, for some minutes:
// signs out, and asks for the password over the same page, so that what was
// typed stays. While the computer that keeps the book cannot be reached, nobody
// could uncover it, so an idle page stays open. A page whose person handed this
// device over in another tab, or before it was gone back to, is covered at once.
// Without this file the sign-in ends after hours only.

import { look as lookForLaptop } from "./reach.js";
import { isWith, signOutFirst, wentFrom } from "./whose.js";

const cover = document.querySelector("dialog[data-cover]");
const { whose: mine, cached } = document.documentElement.dataset;
let hide = () => {};

// a page that came from the laptop just now was made for who is signed in
const begun = cover && cached === undefined ? isWith(mine, true) : Promise.resolve();

// still reports whether this device is with whom this page was made for, and
// covers it where it is not.
export async function still() {
  await begun;
  if (!cover || !await wentFrom(mine)) return true;
  hide();
  return false;
}

if (cover) {
  const form = cover.querySelector("form");
  const password = form.querySelector("input[type=password]");
  const says = form.querySelector("[role=alert]");
  const after = Number(cover.dataset.cover) * 60000;
  const key = "barrelbook-touched";
  const tabs = new BroadcastChannel("barrelbook-whose");
  const json = { Accept: "application/json" };
  let covered = false;
  let asking = false;
  let noted = 0;

  const touched = () => {
    if (covered || Math.abs(Date.now() - noted) < 1000) return;
    noted = Date.now();
    try { localStorage.setItem(key, String(noted)); } catch { /* refused: this tab counts alone */ }
  };
  const last = () => {
    let at = noted;
    try { at = Number(localStorage.getItem(key)); } catch { /* this tab counts alone */ }
    if (at > Date.now()) touched(); // the clock was set back: counted from now
    return Math.min(at, Date.now());
  };
  for (const what of ["pointerdown", "keydown", "input", "scroll"]) {
    addEventListener(what, touched, { capture: true, passive: true });
  }
  touched();

  const look = async () => {
    if (covered || asking || after === 0 || Date.now() - last() < after) return;
    asking = true;
    try {
      const answer = await fetch("/sign-out", { method: "POST", headers: json, body: new URLSearchParams() });
      if (answer.ok) {
        hide();
        await isWith("");
      }
    } catch {
      // not reached: tried again at the next look
    }
    asking = false;
  };
  if (after > 0) setInterval(look, Math.min(5000, after / 4));
  document.addEventListener("visibilitychange", () => { if (!document.hidden) still(); look(); });
  addEventListener("pageshow", (event) => { if (event.persisted) still(); });

  tabs.addEventListener("message", ({ data }) => {
    if (data.whose !== mine) hide();
    else if (data.vouched) reveal();
  });
  cover.addEventListener("cancel", (event) => event.preventDefault());
  cover.addEventListener("close", () => { if (covered) cover.showModal(); });

  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    says.textContent = "";
    try {
      await signOutFirst();
      const answer = await fetch("/sign-in", { method: "POST", headers: json, body: new URLSearchParams(new FormData(form)) });
      if (answer.ok) {
        await isWith(mine, true);
        reveal();
        lookForLaptop(); // its pages are kept anew
        return;
      }
      says.textContent = await answer.text();
    } catch {
      says.textContent = "The computer that keeps the book cannot be reached.";
    }
    password.select();
  });

  hide = () => {
    if (covered) return;
    covered = true;
    password.value = says.textContent = "";
    cover.showModal();
    password.focus();
  };

  function reveal() {
    if (!covered) return;
    covered = false;
    noted = 0;
    password.value = "";
    cover.close();
    touched();
  }
}
