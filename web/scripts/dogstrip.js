// The strip of visits: pictures whose points are placed are laid over each other, so that she stands at one place in all of
// them; two buttons step through the visits. Without this script the pictures are cropped evenly and the strip scrolls by
// touch and by arrow keys.

// The six figures take the picture, one wide, to the frame, one wide; percentages are of the picture's own sides.
for (const img of document.querySelectorAll("img[data-laid]")) {
  const [a, b, c, d, e, f] = img.dataset.laid.split(" ").map(Number);
  const ratio = Number(img.getAttribute("height")) / Number(img.getAttribute("width"));
  img.parentElement.classList.add("visit-laid");
  img.style.transform = `translate(${e * 100}%, ${(f / ratio) * 100}%) matrix(${a}, ${b}, ${c}, ${d}, 0, 0)`;
}

const strip = document.querySelector("[data-dogstrip]");
const keys = document.querySelector("[data-dogstrip-keys]");
if (strip && keys) {
  const still = matchMedia("(prefers-reduced-motion: reduce)");
  const [newer, older] = keys.querySelectorAll("button");
  const fit = () => {
    const room = strip.scrollWidth - strip.clientWidth;
    keys.hidden = room < 2;
    newer.disabled = strip.scrollLeft < 2;
    older.disabled = strip.scrollLeft > room - 2;
  };
  const step = () => strip.querySelector(".visit").getBoundingClientRect().width + 16;
  keys.addEventListener("click", (event) => {
    const by = Number(event.target.closest("button")?.dataset.by);
    if (by) strip.scrollBy({ left: by * step(), behavior: still.matches ? "auto" : "smooth" });
  });
  // On a phone the row is higher than the room between the bars: who comes to it by key sees where it begins, not its middle.
  let byKey = false;
  addEventListener("keydown", (event) => { byKey = event.key === "Tab"; }, true);
  addEventListener("blur", () => { byKey = false; }); // who comes back to the window stays where she was
  strip.addEventListener("focus", () => {
    const { scrollPaddingTop: top, scrollPaddingBottom: bottom } = getComputedStyle(document.documentElement);
    const room = innerHeight - (parseFloat(top) || 0) - (parseFloat(bottom) || 0);
    if (byKey && strip.offsetHeight > room) strip.scrollIntoView({ block: "start" });
  });
  strip.addEventListener("scroll", fit, { passive: true });
  addEventListener("resize", fit);
  fit();
}
