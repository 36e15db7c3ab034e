// The sheet, one line at a time, from keys or a Bluetooth clicker: Enter (or a presenter's forward key) is Done, arrows step,
// P is a photo, N is not ready, U undoes. A press while a page is on its way counts once. Without this script every button
// is a plain form or link.

const root = document.querySelector("[data-work]");
const find = (name) => root.querySelector(`[data-work-${name}]`);

let away = false;
for (const form of root.querySelectorAll("form")) {
  form.addEventListener("submit", (event) => {
    if (away) return event.preventDefault();
    away = true;
  });
}
addEventListener("pageshow", () => { away = false; });

// In the whole-screen view the card is what one hears first; on the session's page it must not pull the page down.
if (root.classList.contains("work-whole") && !document.querySelector("[data-focus]")) root.querySelector(".work-zone")?.focus({ preventScroll: true });

const press = (name) => {
  const target = find(name);
  if (!target || target.disabled || away) return false;
  if (target.tagName === "A") away = name !== "photo";
  target.click();
  return true;
};
const keys = {
  Enter: "done", PageDown: "done", ArrowRight: "next", ArrowLeft: "back", PageUp: "back", p: "photo", P: "photo", u: "undo", U: "undo",
};
document.addEventListener("keydown", (event) => {
  if (event.defaultPrevented || event.ctrlKey || event.metaKey || event.altKey) return;
  const at = event.target;
  if (at.closest("input, textarea, select, summary")) return;
  if (event.key === "Enter" && at.closest("a, button")) return; // the one that is focused acts itself
  if (!root.classList.contains("work-whole") && at !== document.body && !root.contains(at)) return;
  let done = false;
  if (event.key === "n" || event.key === "N") {
    const button = root.querySelector(".work-notready");
    if (button && !event.repeat && !away) { button.click(); done = true; }
  } else if (keys[event.key]) {
    done = event.repeat || press(keys[event.key]);
  }
  if (done) event.preventDefault();
});

// A photo goes up without leaving the line.
const photos = root.querySelector("[data-work-photos]");
const camera = find("photo");
if (photos && camera) {
  const input = photos.querySelector("input");
  const says = photos.querySelector("p");
  const words = photos.dataset;
  camera.addEventListener("click", (event) => {
    event.preventDefault();
    input.click();
  });
  input.addEventListener("change", async () => {
    const file = input.files[0];
    if (!file) return;
    photos.hidden = false;
    says.textContent = words.wordSending;
    const body = new FormData();
    body.append("photos", file, file.name);
    try {
      const answer = await fetch(words.url, { method: "POST", body, headers: { Accept: "text/x-rows" } });
      const row = new DOMParser().parseFromString(await answer.text(), "text/html").querySelector(".up");
      const fault = row?.querySelector(".up-fault")?.textContent;
      says.textContent = answer.ok && row ? words.wordStored : fault || words.wordRefused;
    } catch {
      says.textContent = words.wordRefused;
    }
    input.value = "";
  });
}
