// The order of the sheet's lines is dragged by the grip, with a finger or a mouse; the buttons beside it do the same.

const list = document.querySelector("[data-arrange]");
let held = null;
let moved = false;

const keep = async () => {
  const body = new URLSearchParams({ rev: list.dataset.rev });
  for (const line of list.children) body.append("order", line.dataset.zone);
  await fetch(list.dataset.arrange, { method: "POST", body });
  location.reload(); // with the new version, and the buttons of the first and the last line right
};

for (const grip of list.querySelectorAll("[data-grip]")) {
  grip.hidden = false;
  grip.addEventListener("pointerdown", (event) => {
    if (event.button !== 0) return;
    event.preventDefault();
    held = grip.closest("li");
    moved = false;
    held.classList.add("arrange-held");
  });
}

// The whole document listens: a line that changes its place loses the pointer that was captured for it.
document.addEventListener("pointermove", (event) => {
  if (!held) return;
  for (const other of list.children) {
    if (other === held) continue;
    const box = other.getBoundingClientRect();
    if (event.clientY < box.top || event.clientY > box.bottom) continue;
    const before = event.clientY < box.top + box.height / 2 ? other : other.nextSibling;
    if (before !== held && before !== held.nextSibling) {
      list.insertBefore(held, before);
      moved = true;
    }
    return;
  }
});
for (const end of ["pointerup", "pointercancel"]) {
  document.addEventListener(end, () => {
    if (!held) return;
    held.classList.remove("arrange-held");
    held = null;
    if (moved) keep();
  });
}
