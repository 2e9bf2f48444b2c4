// Copies a text with one press. Without this file the text is selected and
// copied by hand.

for (const button of document.querySelectorAll("button[data-copy]")) {
  const text = document.getElementById(button.dataset.copy);
  const said = button.parentElement.querySelector("[data-copied]");
  button.hidden = false;
  button.addEventListener("click", async () => {
    text.focus();
    text.select();
    try {
      await navigator.clipboard.writeText(text.value);
      said.textContent = "Copied.";
    } catch {
      // a tablet without encryption has no clipboard for pages
      said.textContent = document.execCommand("copy") ? "Copied." : "It is selected: copy it with the keyboard or the menu.";
    }
  });
}
