// A password can be looked at while it is typed. Without this script the button stays hidden.
for (const button of document.querySelectorAll("[data-show-password]")) {
  const field = document.getElementById(button.dataset.showPassword);
  if (!field) continue;
  button.hidden = false;
  button.addEventListener("click", () => {
    const shown = field.type === "text";
    field.type = shown ? "password" : "text";
    button.setAttribute("aria-pressed", String(!shown));
    field.focus();
  });
  // Sent as a password, so that no browser keeps it as a typed text.
  field.form?.addEventListener("submit", () => { field.type = "password"; });
}
