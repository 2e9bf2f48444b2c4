// A password can be looked at while it is typed. Without this file it cannot.

for (const entry of document.querySelectorAll("[data-reveal]")) {
  const input = entry.querySelector("input");
  const button = entry.querySelector("button");
  input.closest(".control").append(button);
  button.hidden = false;
  button.addEventListener("click", () => {
    const show = input.type === "password";
    input.type = show ? "text" : "password";
    button.textContent = show ? "Hide" : "Show";
    button.setAttribute("aria-pressed", String(show));
    input.focus();
  });
}
