// On every page: how much waits to be sent and whether it goes; forms marked data-outbox, which are kept on this device where
// the server cannot be reached; the word on a page that is shown without network; and the service worker's registration.
// Without this script forms are sent as ever.

const bar = document.querySelector("[data-outbox-bar]");
const me = document.body.dataset.me ?? "";
const words = bar?.dataset ?? {};
const noticeMS = 8000;

// A note that something may wait, so that the store is opened only then. Where notes are not allowed it always may.
const flagged = () => {
  try {
    return localStorage.getItem("thatch-waiting") !== null;
  } catch {
    return true;
  }
};
const flag = (on) => {
  try {
    if (on) localStorage.setItem("thatch-waiting", "1");
    else localStorage.removeItem("thatch-waiting");
  } catch { /* not allowed here */ }
};

// A page that comes from this device's own copy says of when it is.
const asOf = document.querySelector("[data-asof]");
const keptAt = Number(document.documentElement.dataset.keptAt);
if (asOf && keptAt) {
  const at = new Date(keptAt);
  const lang = document.documentElement.lang;
  const today = at.toDateString() === new Date().toDateString();
  const time = at.toLocaleTimeString(lang, { hour: "2-digit", minute: "2-digit" });
  const says = asOf.querySelector("[data-asof-says]");
  says.textContent = says.dataset.word.replace("{at}", today ? time : `${at.toLocaleDateString(lang, { day: "numeric", month: "short" })}, ${time}`);
}

let queue;
let waiting = []; // of who is signed in
let total = 0; // of everybody who uses this device
let mustSignIn = false;
let timer;

async function load() {
  if (queue || !me || !globalThis.indexedDB) return queue;
  const loaded = await import("./queue.js");
  if (queue) return queue;
  await loaded.all(me); // throws where there is no store
  queue = loaded;
  queue.on((message) => {
    if (message.changed) show();
    if (message.added) sendSoon(0);
  });
  await show();
  return queue;
}

const some = (one, other, n) => (n === 1 ? one : other).replace("{n}", String(n));

async function show() {
  waiting = (await queue.all(me)).filter((item) => item.state !== "aside");
  total = await queue.total();
  flag(total > 0);
  const count = (test) => waiting.filter(test).length;
  const said = [];
  const photos = count((i) => i.kind === "photo" && i.state === "waiting");
  const logs = count((i) => i.kind === "log" && i.state === "waiting");
  const asks = count((i) => i.state === "conflict" || i.state === "refused");
  if (photos) said.push(some(words.wordPhotoOne, words.wordPhotoOther, photos));
  if (logs) said.push(some(words.wordLogOne, words.wordLogOther, logs));
  if (asks) said.push(some(words.wordAskOne, words.wordAskOther, asks));
  if (mustSignIn && waiting.length) said.push(words.wordSignin);
  const says = bar.querySelector("[data-outbox-says]");
  const text = said.join(" · ");
  if (says.textContent !== text) says.textContent = text;
  bar.hidden = !text || Boolean(document.querySelector("[data-outbox-list]")); // the list itself says it
  document.body.classList.toggle("has-waiting", !bar.hidden);
  marks();
}

// What is kept for this very page stands on it, and is never shown as saved.
function marks() {
  const list = document.querySelector("[data-outbox-here]");
  if (!list) return;
  const here = waiting.filter((i) => i.kind === "log" && (i.page === location.pathname || location.pathname === i.of || location.pathname.startsWith(`${i.of}/`)));
  list.hidden = here.length === 0;
  list.querySelector("ul").replaceChildren(...here.map((item) => {
    const line = document.createElement("li");
    const state = document.createElement("b");
    state.textContent = item.state === "conflict" ? words.wordHereConflict : item.state === "refused" ? words.wordHereRefused : words.wordHere;
    line.append(state, ` ${item.name}`);
    return line;
  }));
}

let forced = 0;
async function sendNow(force) {
  clearTimeout(timer);
  if (!queue) return;
  if (force && Date.now() - forced < 2000) force = false; // a network that is not there is not asked without pause
  else if (force) forced = Date.now();
  const left = await Promise.all(["log", "photo"].map((lane) => queue.send(me, lane, force).catch(() => ({}))));
  mustSignIn = left.some((l) => l.signIn);
  await show().catch(() => {});
  if (mustSignIn) return;
  const next = Math.min(...left.map((l) => (l.busy ? 5000 : l.next ?? Infinity)));
  if (next < Infinity) sendSoon(next);
  if (next < Infinity || waiting.some((i) => i.state === "waiting")) later();
}

function sendSoon(ms) {
  clearTimeout(timer);
  timer = setTimeout(sendNow, ms, false);
}

// The browser may go on when this page is closed.
async function later() {
  try {
    const worker = await navigator.serviceWorker?.getRegistration();
    await worker?.sync?.register("thatch-outbox");
  } catch { /* it does not */ }
}

addEventListener("online", () => sendNow(true));
document.addEventListener("visibilitychange", () => { if (document.visibilityState === "visible") sendNow(true); });
addEventListener("pageshow", (event) => { if (event.persisted) sendNow(true); });
addEventListener("pagehide", () => queue?.letGo());
document.addEventListener("freeze", () => queue?.letGo());
document.addEventListener("outbox:send", () => load().then(() => sendNow(true)).catch(() => {}));

// Forms.
const forms = document.querySelector("form[data-outbox]");
const plain = new WeakSet();

function partsOf(form, button) {
  let data;
  try {
    data = new FormData(form, button);
  } catch {
    data = new FormData(form);
    if (button?.name) data.append(button.name, button.value);
  }
  const to = new URL(button?.hasAttribute("formaction") ? button.formAction : form.getAttribute("action"), location.href);
  return { to: to.pathname + to.search, body: new URLSearchParams(data) };
}

// What a form says, for who reads it later: its own words, or the labels of what is chosen and what was typed.
function saysOf(form, button) {
  const own = button?.dataset.outboxSays ?? form.dataset.outboxSays;
  if (own) return own;
  const text = (label) => {
    const words = label.cloneNode(true);
    for (const note of words.querySelectorAll("small")) note.remove();
    return words.textContent.trim().replace(/\s+/g, " ");
  };
  const said = [];
  const take = form.elements.do?.value;
  for (const field of form.elements) {
    if (field.name === "share" && take && take !== "take") continue; // a share is of a take
    if (!field.name || field.disabled || field.type === "hidden" || field.tagName === "BUTTON") continue;
    const label = field.labels?.[0];
    if (label && label.getClientRects().length === 0 && !label.closest("details:not([open])")) continue; // not asked
    if (field.type === "radio" || field.type === "checkbox") {
      if (field.checked && field.value && label) said.push(text(label));
    } else if (field.value.trim()) said.push(label ? `${text(label)}: ${field.value.trim()}` : field.value.trim());
  }
  if (!said.length) said.push(form.closest("section, li, article")?.querySelector("h1, h2, h3, b")?.textContent.trim(), button?.textContent.trim());
  return said.filter(Boolean).join(" · ").slice(0, 400);
}

function go(to) {
  const at = new URL(to, location.href);
  if (at.pathname + at.search !== location.pathname + location.search) return location.assign(at);
  if (at.hash) history.replaceState(null, "", at);
  location.reload();
}

async function sayForm(form, button) {
  const { to, body } = partsOf(form, button);
  const of = to.split("/").slice(0, 3).join("/").split("?")[0];
  const item = await queue.keep({ kind: "log", me, to, of, rev: Number(body.get("rev")) || 0, body: body.toString(), name: saysOf(form, button), dog: document.querySelector(".dogbar-name")?.textContent ?? "", page: location.pathname });
  let heard;
  const ended = new Promise((resolve) => {
    heard = queue.on((message) => { if (message.done === item.id || message.failed === item.id) resolve(message); });
  });
  const late = new Promise((resolve) => { setTimeout(resolve, noticeMS, null); });
  const tried = queue.send(me, "log", true).catch(() => {});
  const message = await Promise.race([ended, late, tried.then(() => null)]);
  heard();
  if (message?.done) return go(message.to);
  if (message?.why === "refused" || message?.why === "conflict") {
    // The server is there: its own page says what is wrong, with the input kept.
    await queue.drop(item.id);
    return plainly(form, button);
  }
  await queue.mark(item.id, { later: true });
  await show();
  sendNow(false);
  form.dispatchEvent(new CustomEvent("outbox:kept", { bubbles: true, detail: { id: item.id, says: item.name } }));
  const next = form.dataset.outboxNext ?? form.closest("[data-work]")?.querySelector("[data-work-next]")?.getAttribute("href");
  if (next) location.assign(next);
  else document.querySelector("[data-outbox-here]")?.scrollIntoView({ block: "nearest" });
}

document.addEventListener("submit", (event) => {
  const form = event.target;
  if (event.defaultPrevented || plain.has(form)) return;
  if (form.getAttribute("action") === "/signout") {
    event.preventDefault();
    plain.add(form);
    leave(form);
    return;
  }
  if (!form.matches("form[data-outbox]") || !me || !globalThis.indexedDB) return;
  event.preventDefault();
  const button = event.submitter;
  load().then(() => sayForm(form, button)).catch(() => plainly(form, button)); // no room, or no store
});

// plainly sends a form as ever. Its own submit is used, and attributes: a field may be called "action" or "submit".
function plainly(form, button) {
  plain.add(form);
  if (button?.name) add(form, button.name, button.value);
  if (button?.hasAttribute("formaction")) form.setAttribute("action", button.formAction);
  HTMLFormElement.prototype.submit.call(form);
}

function add(form, name, value) {
  const field = document.createElement("input");
  field.type = "hidden";
  field.name = name;
  field.value = value;
  form.append(field);
}

// Signing out takes the kept pages away. What waits to be sent stays for who put it there: then the server leaves the store.
// Without the server nobody is signed out, and the page says so: the next one at this phone would be in.
async function leave(form) {
  const gone = (async () => {
    if (queue) await show();
    for (const name of (await globalThis.caches?.keys()) ?? []) if (/^thatch-(pages|pictures|about)/.test(name)) await caches.delete(name);
  })().catch(() => {});
  await Promise.race([gone, new Promise((resolve) => { setTimeout(resolve, 1500); })]);
  if (queue ? total : flagged()) add(form, "waiting", "1");
  try {
    await fetch(form.action, { method: "POST", body: new URLSearchParams(new FormData(form)), redirect: "manual" });
    location.assign("/");
  } catch {
    const word = document.createElement("p");
    word.setAttribute("role", "alert");
    word.textContent = form.dataset.wordOffline;
    form.querySelector("[role=alert]")?.remove();
    form.append(word);
  }
}

// The door: somebody's photos wait here, and go when she signs in.
const door = document.querySelector("[data-outbox-door]");
if (door && flagged()) door.hidden = false;

if (me && bar) {
  const needed = flagged() || document.querySelector("[data-upload], [data-outbox-list]");
  if (needed || forms) load().then(() => sendNow(true)).catch(() => {});
}

if (me && navigator.serviceWorker && isSecureContext) {
  const soon = (work) => (globalThis.requestIdleCallback ?? ((f) => setTimeout(f, 1)))(work);
  const start = () => setTimeout(() => soon(async () => {
    try {
      await navigator.serviceWorker.register("/sw.js");
      const { active } = await navigator.serviceWorker.ready;
      if (!navigator.connection?.saveData) active.postMessage({ ahead: me });
    } catch { /* then pages are read with the network only */ }
  }), 2500);
  if (document.readyState === "complete") start();
  else addEventListener("load", start);
}
