// Covers the page when nobody has touched it, in any tab, for some minutes:
// signs out, and asks for the password over the same page, so that what was
// typed stays. While the computer that keeps the book cannot be reached, nobody
// could uncover it, so the page stays open. Without this file the sign-in ends
// after hours only.

import { signOutFirst } from "./left.js";

const cover = document.querySelector("dialog[data-cover]");
if (cover) {
  const form = cover.querySelector("form");
  const password = form.querySelector("input[type=password]");
  const says = form.querySelector("[role=alert]");
  const after = Number(cover.dataset.cover) * 60000;
  const key = "barrelbook-touched";
  const tabs = new BroadcastChannel("barrelbook-cover");
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
    if (covered || asking || Date.now() - last() < after) return;
    asking = true;
    try {
      const answer = await fetch("/sign-out", { method: "POST", headers: json, body: new URLSearchParams() });
      if (answer.ok) {
        hide();
        tabs.postMessage("cover");
      }
    } catch {
      // not reached: tried again at the next look
    }
    asking = false;
  };
  setInterval(look, Math.min(5000, after / 4));
  document.addEventListener("visibilitychange", look);

  tabs.addEventListener("message", (event) => (event.data === "cover" ? hide() : reveal()));
  cover.addEventListener("cancel", (event) => event.preventDefault());
  cover.addEventListener("close", () => { if (covered) cover.showModal(); });

  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    says.textContent = "";
    try {
      await signOutFirst();
      const answer = await fetch("/sign-in", { method: "POST", headers: json, body: new URLSearchParams(new FormData(form)) });
      if (answer.ok) {
        reveal();
        tabs.postMessage("reveal");
        return;
      }
      says.textContent = await answer.text();
    } catch {
      says.textContent = "The computer that keeps the book cannot be reached.";
    }
    password.select();
  });

  function hide() {
    if (covered) return;
    covered = true;
    password.value = says.textContent = "";
    cover.showModal();
    password.focus();
  }

  function reveal() {
    if (!covered) return;
    covered = false;
    noted = 0;
    password.value = "";
    cover.close();
    touched();
  }
}
