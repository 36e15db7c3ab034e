// The drawn dog and what stands beside it. A tap on a zone (or near one: fingers are wide) ticks its box; hovering and
// moving by key say its name under the drawing.

for (const figure of document.querySelectorAll("[data-dogfig]")) {
  const svg = figure.querySelector("[data-dog]");
  const says = figure.querySelector("[data-dog-says]");
  const idle = says.textContent;
  const zones = [...svg.querySelectorAll("[data-zone]")];
  const picker = figure.closest("[data-picker]");

  const tell = (zone) => { says.textContent = zone ? zone.dataset.says : idle; };
  for (const zone of zones) {
    zone.addEventListener("pointerenter", () => tell(zone));
    zone.addEventListener("focus", () => tell(zone));
    zone.addEventListener("blur", () => tell(null));
  }
  svg.addEventListener("pointerleave", () => tell(null));

  if (!picker) continue;
  const input = (zone) => picker.querySelector(`[data-zone-input="${zone.dataset.zone}"]`);
  const show = () => {
    for (const zone of zones) {
      const on = input(zone)?.checked ?? false;
      zone.classList.toggle("z-on", on);
      zone.setAttribute("aria-checked", String(on));
    }
  };
  for (const zone of zones) {
    zone.setAttribute("role", "checkbox");
  }
  const toggle = (zone) => {
    const box = input(zone);
    if (!box) return;
    box.checked = !box.checked;
    box.dispatchEvent(new Event("change", { bubbles: true }));
    tell(zone);
  };

  // The nearest zone's middle within a fingertip (22 px) of the tap, for what falls beside the dog.
  const near = (event) => {
    const m = svg.getScreenCTM();
    let best = null, bestD = 22;
    for (const zone of zones) {
      const x = zone.dataset.x * m.a + m.e, y = zone.dataset.y * m.d + m.f;
      const d = Math.hypot(event.clientX - x, event.clientY - y);
      if (d < bestD) [best, bestD] = [zone, d];
    }
    return best;
  };
  svg.addEventListener("click", (event) => {
    const hit = event.target.closest("[data-zone]") ?? near(event);
    if (!hit) return;
    event.preventDefault();
    toggle(hit);
  });
  svg.addEventListener("keydown", (event) => {
    const hit = event.target.closest("[data-zone]");
    if (hit && event.key === " ") {
      event.preventDefault();
      toggle(hit);
    }
  });
  picker.addEventListener("change", show);
  for (const group of picker.querySelectorAll("[data-group]")) {
    const button = group.querySelector("[data-group-all]");
    const boxes = [...group.querySelectorAll("[data-zone-input]")];
    button.hidden = false;
    button.addEventListener("click", () => {
      const all = boxes.every((box) => box.checked);
      for (const box of boxes) box.checked = !all;
      boxes[0].dispatchEvent(new Event("change", { bubbles: true }));
    });
  }
  show();
}
