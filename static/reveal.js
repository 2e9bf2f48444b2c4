// A password can be looked at while it is typed. Without this file it cannot.

for (const entry of document.querySelectorAll("[data-reveal]")) {
  const input = entry.querySelector("input");
  const button = entry.querySelector("button");
  input.closest(".control").append(button);
  button.hidden = false;
  const show = (shown) => {
    input.type = shown ? "text" : "password";
    button.textContent = shown ? "Hide" : "Show";
    button.setAttribute("aria-pressed", String(shown));
  };
  button.addEventListener("click", () => {
    show(input.type === "password");
    input.focus();
  });
  input.form.addEventListener("submit", () => show(false));
}
