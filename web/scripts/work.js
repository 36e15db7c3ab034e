// The sheet, one line at a time. A tap is answered at once: the next card is there already and comes up while the last line is
// on its way, and is never called saved before the server has said so. What finds no network is kept by the outbox. Keys do the
// same as fingers, so that a Bluetooth clicker works. Without this script every button is a plain form or link.

const root = document.querySelector("[data-work]");
const whole = root.classList.contains("work-whole");
const words = root.dataset;
const find = (name) => root.querySelector(`[data-work-${name}]`);

let away = false; // a page is on its way: a press counts once
addEventListener("pageshow", () => { away = false; });

// The outbox's store; without it forms are sent as ever.
const me = document.body.dataset.me ?? "";
let box;
if (whole && me && globalThis.indexedDB) {
  import("./queue.js").then(async (queue) => {
    await queue.all(me);
    queue.on((message) => { if (sent.has(message.done ?? message.failed)) heard(message); });
    box = queue;
    root.dataset.ready = "";
  }).catch(() => {});
}

const focusCard = () => root.querySelector(".work-zone")?.focus({ preventScroll: true });
// In the whole-screen view the card is what one hears first; on the session's page it must not pull the page down.
if (whole && !document.querySelector("[data-focus]")) focusCard();

// told says what becomes of a tap.
function told(text, state, button) {
  const line = document.createElement("div");
  line.className = `work-undo work-${state}`;
  const p = document.createElement("p");
  p.textContent = text;
  line.append(p);
  if (button) line.append(button);
  find("told").replaceChildren(line);
}

// showAhead brings the next card up before the server has answered; false where it is not known.
function showAhead() {
  const ahead = find("ahead");
  if (!ahead) return false;
  root.dataset.at = ahead.dataset.at;
  find("body").replaceWith(ahead.content.cloneNode(true));
  ahead.remove();
  withRev(root.dataset.rev);
  root.scrollIntoView({ block: "start" });
  focusCard();
  return true;
}

function withRev(rev) {
  root.dataset.rev = rev;
  for (const field of root.querySelectorAll("input[name=rev]")) field.value = rev;
}

// adopt takes over what the server shows. A card that is up already stays, with what was tapped on it.
function adopt(next) {
  const same = next.dataset.at === root.dataset.at && !next.querySelector("[data-work-fault] > *");
  for (const css of [".work-head", ".work-bar", "[data-work-fault]"]) root.querySelector(css).replaceWith(next.querySelector(css));
  find("told").replaceChildren(...next.querySelector("[data-work-told]").childNodes);
  const saws = [...next.querySelectorAll("[data-work-body] input[name=saw]")];
  // What is proposed may hang on what was said of the step before.
  if (same) for (const css of [".work-with", ".work-rest"]) find("body").querySelector(css)?.replaceWith(next.querySelector(`[data-work-body] ${css}`) ?? "");
  if (same) for (const [i, field] of [...root.querySelectorAll("[data-work-body] input[name=saw]")].entries()) field.value = saws[i]?.value ?? field.value;
  else find("body").replaceWith(next.querySelector("[data-work-body]"));
  find("ahead")?.remove();
  const ahead = next.querySelector("[data-work-ahead]");
  if (ahead) find("body").after(ahead);
  const more = root.querySelector(".work-more");
  if (![...more.querySelectorAll("textarea")].some((t) => t.value.trim())) more.replaceWith(next.querySelector(".work-more"));
  root.dataset.at = next.dataset.at;
  withRev(next.dataset.rev);
  root.removeAttribute("aria-busy");
  if (!same) focusCard();
  document.querySelector("[data-focus]")?.focus();
}

async function look(url, options) {
  const answer = await fetch(url, options);
  const next = new DOMParser().parseFromString(await answer.text(), "text/html").querySelector("[data-work]");
  if (!next?.classList.contains("work-whole")) return location.assign(answer.url);
  adopt(next);
  if (answer.ok) history.replaceState(null, "", answer.url);
}

// What was tapped and is not answered yet, by its number in the outbox.
const sent = new Map();
let waiting = 0;
const wait = (n) => {
  waiting += n;
  root.toggleAttribute("data-waiting", waiting > 0);
};

async function send(form, button) {
  const data = new URLSearchParams(new FormData(form));
  if (button?.name) data.set(button.name, button.value);
  const to = new URL(form.getAttribute("action"), location.href).pathname;
  const says = [button?.dataset.says ?? root.querySelector(".work-zone")?.innerText, button?.innerText].filter(Boolean).join(" · ").trim();
  const step = form.matches(".work-form");
  const entry = { to, body: data.toString(), says };
  wait(1);
  told(words.wordSending.replace("{what}", says), "sending");
  if (!(step && showAhead())) root.setAttribute("aria-busy", "true");
  try {
    const item = await box.keep({ kind: "log", me, to, of: to.split("/").slice(0, 3).join("/"), rev: Number(data.get("rev")) || 0, body: entry.body, name: says, page: location.pathname });
    sent.set(item.id, entry);
  } catch { // no room: as ever, and the answer is a page
    return look(to, { method: "POST", body: data }).catch(() => told(words.wordLost.replace("{what}", says), "lost")).finally(() => wait(-1));
  }
  box.send(me, "log", true).catch(() => {});
}

async function heard(message) {
  const id = message.done ?? message.failed;
  const entry = sent.get(id);
  try {
    if (message.done) {
      sent.delete(id);
      if (sent.size === 0) await look(message.to);
      wait(-1);
      return;
    }
    if (message.why === "conflict" || message.why === "refused") {
      // The server is there: its own page shows what stands and what was said.
      sent.delete(id);
      await box.drop(id);
      await look(entry.to, { method: "POST", body: new URLSearchParams(entry.body) });
      wait(-1);
      if (sent.size) box.send(me, "log", true).catch(() => {});
      return;
    }
  } catch { /* the network went meanwhile: said below */ }
  if (message.done || !sent.has(id)) {
    wait(-1);
    root.removeAttribute("aria-busy");
  }
  if (message.done) return told(words.wordKept.replace("{what}", entry.says), "kept");
  await box.mark(id, { later: true }).catch(() => {});
  root.removeAttribute("aria-busy");
  told(words.wordLost.replace("{what}", entry.says), "lost", again());
  document.dispatchEvent(new CustomEvent("outbox:send"));
}

function again() {
  const button = document.createElement("button");
  button.className = "button button-plain";
  button.textContent = words.wordAgain;
  button.addEventListener("click", () => box.send(me, "log", true).catch(() => {}));
  return button;
}

document.addEventListener("submit", (event) => {
  const form = event.target;
  if (!root.contains(form)) return;
  const busy = root.hasAttribute("aria-busy");
  if (form.matches("[data-work-send]") && box) {
    event.preventDefault();
    if (!busy) send(form, event.submitter);
    return;
  }
  if (away || busy) return event.preventDefault();
  if (!form.matches("[data-outbox]")) away = true;
}, true);

// Next shows the card at once and then what the server has.
root.addEventListener("click", (event) => {
  const link = event.target.closest("[data-work-next]");
  if (!link || !whole || event.defaultPrevented || event.ctrlKey || event.metaKey || event.shiftKey) return;
  const to = link.href;
  if (!showAhead()) return;
  event.preventDefault();
  history.pushState(null, "", to);
  look(to).catch(() => location.assign(to));
});
addEventListener("popstate", () => location.reload());

// A chip that a finger tapped does not hold the keys: a clicker's arrows step on instead of changing the answer.
let finger = false;
addEventListener("pointerdown", () => { finger = true; }, true);
addEventListener("keydown", () => { finger = false; }, true);
root.addEventListener("change", (event) => {
  if (finger && event.target.matches("input[type=radio], input[type=checkbox]")) event.target.blur();
});

const press = (name) => {
  const target = find(name);
  if (!target || target.disabled || away || root.hasAttribute("aria-busy")) return false;
  if (target.tagName === "A" && name !== "photo" && !(name === "next" && whole)) away = true;
  target.click();
  return true;
};
// What presenters, page turners and camera clickers send.
const keys = {
  Enter: "done", " ": "done", PageDown: "done", AudioVolumeUp: "done", VolumeUp: "done",
  ArrowRight: "next", n: "next", N: "next", MediaTrackNext: "next", AudioVolumeDown: "next", VolumeDown: "next",
  ArrowLeft: "back", PageUp: "back", MediaTrackPrevious: "back",
  p: "photo", P: "photo", u: "undo", U: "undo",
};
const typing = "input:not([type=radio], [type=checkbox], [type=button], [type=submit]), textarea, select, [contenteditable]";
document.addEventListener("keydown", (event) => {
  if (event.defaultPrevented || event.isComposing || event.ctrlKey || event.metaKey || event.altKey) return;
  const at = event.target;
  if (at.closest(typing)) return;
  const acts = at.closest("a, button, summary, input");
  if (acts && (event.key === "Enter" || event.key === " ")) return; // the one that is focused acts itself
  if (at.matches("input[type=radio]") && event.key.startsWith("Arrow")) return;
  if (!whole && at !== document.body && !root.contains(at)) return;
  let done = false;
  if (event.key === "x" || event.key === "X") {
    const button = root.querySelector(".work-notready");
    if (button && !event.repeat && !away) { button.click(); done = true; }
  } else if (event.key === "?") {
    const help = root.querySelector(".work-keys");
    help.open = !help.open;
    done = true;
  } else if (keys[event.key]) {
    done = event.repeat || press(keys[event.key]);
  }
  if (done) event.preventDefault();
});

// A photo goes up without leaving the line.
root.addEventListener("click", (event) => {
  const camera = event.target.closest("[data-work-photo]");
  const input = find("photos")?.querySelector("input");
  if (!camera || !input) return;
  event.preventDefault();
  input.click();
});
root.addEventListener("change", async (event) => {
  const photos = event.target.closest("[data-work-photos]");
  const file = event.target.files?.[0];
  if (!photos || !file) return;
  photos.hidden = false;
  sayPhoto(photos.dataset.wordSending);
  try {
    const queue = box ?? await import("./queue.js");
    queue.on(heardPhoto);
    const item = await queue.keep({ kind: "photo", me, to: photos.dataset.url, name: file.name, size: file.size, dog: document.querySelector(".dogbar-name")?.textContent ?? "", page: location.pathname }, file);
    sentPhotos.add(item.id);
    document.dispatchEvent(new CustomEvent("outbox:send"));
  } catch { // no store, or no room: straight to the server
    const body = new FormData();
    body.append("photos", file, file.name);
    await fetch(photos.dataset.url, { method: "POST", body, headers: { Accept: "text/x-rows" } }).then(async (answer) => showPhoto(answer.ok, await answer.text()), () => sayPhoto(photos.dataset.wordRefused));
  }
  event.target.value = "";
});

const sentPhotos = new Set();

function sayPhoto(text) {
  find("photos").querySelector("p").textContent = text;
}

// showPhoto takes the server's own row: the word on it, and its picture.
function showPhoto(ok, html) {
  const row = new DOMParser().parseFromString(html ?? "", "text/html").querySelector(".up");
  const place = find("photos");
  sayPhoto(ok && row ? place.dataset.wordStored : row?.querySelector(".up-fault")?.textContent || place.dataset.wordRefused);
  const picture = row?.querySelector(".up-sign img");
  if (!ok || !picture) return;
  const link = document.createElement("a");
  link.href = row.querySelector(".up-sign").getAttribute("href");
  link.append(document.importNode(picture, true));
  place.querySelector("[data-work-tiles]").append(link);
}

function heardPhoto(message) {
  const id = message.done ?? message.failed;
  if (!sentPhotos.has(id)) return;
  if (message.done || message.why === "refused") sentPhotos.delete(id);
  if (message.done) showPhoto(true, message.row);
  else if (message.why === "refused") sayPhoto(message.say || find("photos").dataset.wordRefused);
  else sayPhoto(find("photos").dataset.wordKept);
}
