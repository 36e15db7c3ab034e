// The slider of a comparison. The range input is the slider: keys, touch and its name come with it; a finger on the picture
// moves it too. Boxes beside it hide lines.

for (const root of document.querySelectorAll("[data-compare]")) {
  const stage = root.querySelector("[data-cmp-stage]");
  const range = root.querySelector("[data-cmp-range]");
  if (stage && range) {
    const show = () => {
      stage.style.setProperty("--at", `${range.value}%`);
      range.setAttribute("aria-valuetext", `${range.value} %`);
    };
    range.addEventListener("input", show);
    const follow = (event) => {
      const box = stage.getBoundingClientRect();
      range.value = String(Math.round((100 * (event.clientX - box.left)) / box.width));
      show();
    };
    let held = false;
    stage.addEventListener("pointerdown", (event) => {
      if (event.button !== 0) return;
      held = true;
      stage.setPointerCapture(event.pointerId);
      follow(event);
    });
    stage.addEventListener("pointermove", (event) => held && follow(event));
    for (const end of ["pointerup", "pointercancel"]) stage.addEventListener(end, () => { held = false; });
    show();
  }
}
