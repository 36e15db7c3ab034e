// The button prints; without a script the browser's own menu does.
const button = document.querySelector("[data-print]");
if (button) {
  button.hidden = false;
  button.addEventListener("click", () => print());
}
