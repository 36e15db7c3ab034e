// Small comforts of every page. Nothing here is needed for a page to work.

// The fault of a form is read out and scrolled to first.
document.querySelector("[data-focus]")?.focus();

// The theme changes at once, and is kept without a reload.
const themes = document.querySelector("[data-theme-form]");
themes?.addEventListener("submit", async (event) => {
  const button = event.submitter;
  if (!button) return;
  event.preventDefault();
  const body = new URLSearchParams(new FormData(themes));
  body.set("theme", button.value);
  if (button.value) document.documentElement.dataset.theme = button.value;
  else delete document.documentElement.dataset.theme;
  for (const b of themes.querySelectorAll("button")) b.setAttribute("aria-pressed", String(b === button));
  try {
    await fetch(themes.action, { method: "POST", body, redirect: "manual" });
  } catch {
    // Not kept: the page still shows what was chosen.
  }
});

// Lines over photos can be hidden one kind at a time.
for (const box of document.querySelectorAll("[data-line]")) {
  box.addEventListener("change", () => {
    for (const path of document.querySelectorAll(`.lines [class*="line-${box.dataset.line}"]`)) path.classList.toggle("line-off", !box.checked);
  });
}

// A zone tapped on the drawn dog opens its line in the list.
const openLine = () => {
  const line = location.hash.length > 1 && document.getElementById(location.hash.slice(1))?.querySelector(":scope > details");
  if (line) line.open = true;
};
addEventListener("hashchange", openLine);
openLine();

// A link that is shown once is easier to copy when it is chosen whole.
for (const field of document.querySelectorAll("[data-select]")) field.addEventListener("focus", () => field.select());
