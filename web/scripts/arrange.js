// The order of the sheet's lines is dragged by the grip, with a finger or a mouse; the buttons beside it do the same.

const list = document.querySelector("[data-arrange]");
let held = null;

const keep = async () => {
  const body = new URLSearchParams({ rev: list.dataset.rev });
  for (const line of list.children) body.append("order", line.dataset.zone);
  await fetch(list.dataset.arrange, { method: "POST", body });
  location.reload(); // with the new version, and the buttons of the first and the last line right
};

for (const grip of list.querySelectorAll("[data-grip]")) {
  grip.hidden = false;
  const line = grip.closest("li");
  let moved = false;
  grip.addEventListener("pointerdown", (event) => {
    if (event.button !== 0) return;
    event.preventDefault();
    held = line;
    moved = false;
    grip.setPointerCapture(event.pointerId);
    line.classList.add("arrange-held");
  });
  grip.addEventListener("pointermove", (event) => {
    if (held !== line) return;
    for (const other of list.children) {
      if (other === line) continue;
      const box = other.getBoundingClientRect();
      if (event.clientY < box.top || event.clientY > box.bottom) continue;
      if (event.clientY < box.top + box.height / 2) list.insertBefore(line, other);
      else list.insertBefore(line, other.nextSibling);
      moved = true;
      break;
    }
  });
  for (const end of ["pointerup", "pointercancel"]) {
    grip.addEventListener(end, () => {
      if (held !== line) return;
      held = null;
      line.classList.remove("arrange-held");
      if (moved) keep();
    });
  }
}
