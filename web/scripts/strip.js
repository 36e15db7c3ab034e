// Visits and shows are moved along the weeks: dragged, or by keys (arrows a day, with Shift or PageUp and PageDown a week,
// Enter to see what it would change, Escape to leave it). Letting go opens the plan as it would be; nothing is saved by it.
// Without this script the buttons beside each visit and show do the same.

const strip = document.querySelector("[data-strip]");
const days = strip.dataset.words.split("|");
const dayPX = Number(strip.dataset.day);
const edge = Number(strip.dataset.edge);
document.querySelector("[data-strip-help]").hidden = false;

const scroll = strip.parentElement;
for (const mark of strip.querySelectorAll("[data-mark]")) {
  const first = Number(mark.dataset.at);
  const name = mark.getAttribute("aria-label");
  const y = mark.transform.baseVal.getItem(0).matrix.f;
  const says = mark.querySelector(".strip-says");
  let at = first;
  let grip = null;

  mark.setAttribute("role", "slider");
  mark.setAttribute("tabindex", "0");
  mark.setAttribute("aria-valuemin", "0");
  mark.setAttribute("aria-valuemax", String(days.length - 1));
  mark.removeAttribute("href");

  const put = (day) => {
    at = Math.min(days.length - 1, Math.max(0, day));
    mark.setAttribute("transform", `translate(${edge + at * dayPX} ${y})`);
    mark.setAttribute("aria-valuenow", String(at));
    mark.setAttribute("aria-valuetext", days[at]);
    says.textContent = at === first ? "" : days[at];
    mark.classList.toggle("strip-moved", at !== first);
  };
  const go = () => {
    if (at === first) return;
    location.assign(`${strip.dataset.strip}?${mark.dataset.query}&days=${at - first}`);
  };
  put(first);

  mark.addEventListener("pointerdown", (event) => {
    if (event.button !== 0) return;
    event.preventDefault();
    mark.focus({ preventScroll: true });
    grip = event.clientX + scroll.scrollLeft - at * dayPX;
    mark.setPointerCapture(event.pointerId);
  });
  mark.addEventListener("pointermove", (event) => {
    if (grip === null) return;
    const box = scroll.getBoundingClientRect();
    if (event.clientX > box.right - 30) scroll.scrollLeft += 8;
    if (event.clientX < box.left + 30) scroll.scrollLeft -= 8;
    put(Math.round((event.clientX + scroll.scrollLeft - grip) / dayPX));
  });
  mark.addEventListener("pointerup", () => { if (grip !== null) { grip = null; go(); } });
  mark.addEventListener("pointercancel", () => { grip = null; put(first); });
  mark.addEventListener("keydown", (event) => {
    const step = { ArrowLeft: event.shiftKey ? -7 : -1, ArrowRight: event.shiftKey ? 7 : 1, ArrowDown: -1, ArrowUp: 1, PageUp: 7, PageDown: -7 }[event.key];
    if (step) put(at + step);
    else if (event.key === "Enter") go();
    else if (event.key === "Escape") put(first);
    else return;
    event.preventDefault();
  });
}
