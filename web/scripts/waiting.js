// The page of what waits on this device: each item with its state, its reason, and what can be done about it. All texts stand
// in the page's templates.

import * as queue from "./queue.js";

const root = document.querySelector("[data-outbox-list]");
const list = root.querySelector("ul");
const empty = document.querySelector("[data-outbox-empty]");
const all = document.querySelector("[data-outbox-all]");
const mould = document.querySelector("[data-outbox-item]").content;
const words = root.dataset;
const me = document.body.dataset.me ?? "";
const bars = new Map();
const pictures = new Map();
let drawn = "";

const send = () => document.dispatchEvent(new Event("outbox:send"));

const stateOf = (item) => ({ conflict: words.wordConflict, refused: words.wordRefused, aside: words.wordAside }[item.state] ?? (item.tries || item.why ? words.wordTrying : words.wordWaiting));
const whyOf = (item) => {
  if (item.state === "waiting") return { network: words.whyNetwork, server: words.whyServer, full: words.whyFull, signin: words.whySignin }[item.why] ?? "";
  if (item.state === "refused") return item.why || words.whyRefused;
  return item.state === "conflict" ? item.why : "";
};

function size(bytes) {
  return bytes >= 100_000 ? `${(bytes / 1e6).toLocaleString(document.documentElement.lang, { maximumFractionDigits: 1 })} MB` : `${Math.max(1, Math.round(bytes / 1000))} kB`;
}

function lineOf(item) {
  const li = mould.cloneNode(true).querySelector("li");
  const part = (name) => li.querySelector(`[data-${name}]`);
  li.dataset.state = item.state;
  li.dataset.id = item.id;
  part("name").textContent = item.name;
  part("about").textContent = [item.dog, item.size && size(item.size), new Date(item.at).toLocaleString(document.documentElement.lang, { dateStyle: "medium", timeStyle: "short" })].filter(Boolean).join(" · ");
  part("state").textContent = stateOf(item);
  const why = whyOf(item);
  part("why").textContent = why;
  part("why").hidden = !why;
  const conflict = item.state === "conflict";
  part("conflict").hidden = !conflict;
  if (conflict) {
    part("said").textContent = item.name;
    part("now").replaceChildren(...(item.now?.length ? item.now : [words.wordNothing]).map((text) => {
      const line = document.createElement("li");
      line.textContent = text;
      return line;
    }));
  }
  const bar = part("bar");
  if (item.kind === "photo" && item.state === "waiting") bars.set(item.id, bar);
  if (item.kind === "photo") show(item, part("picture"));
  for (const button of li.querySelectorAll("button[data-do]")) {
    button.hidden = !button.dataset.when.split(" ").includes(item.state);
    button.setAttribute("aria-label", `${button.textContent.trim()}: ${item.name}`);
    button.addEventListener("click", () => act(button.dataset.do, item));
  }
  return li;
}

async function show(item, place) {
  if (!pictures.has(item.id)) {
    const file = await queue.fileOf(item.id).catch(() => null);
    if (!file) return;
    pictures.set(item.id, URL.createObjectURL(file));
  }
  const img = document.createElement("img");
  img.alt = "";
  img.width = 80;
  img.height = 60;
  img.addEventListener("error", () => img.remove()); // a kind that this browser cannot show
  img.src = pictures.get(item.id);
  place.replaceChildren(img);
}

async function act(what, item) {
  if (what === "send") await queue.again(item.id);
  if (what === "aside") await queue.aside(item.id);
  if (what === "top") await queue.onTop(me, item.id);
  if (what === "send" || what === "top") send();
  await draw();
  const next = list.querySelector(`[data-id="${item.id}"] button:not([hidden])`) ?? list.querySelector("button:not([hidden])") ?? document.querySelector("main");
  next.focus();
}

async function draw() {
  const items = await queue.all(me);
  const now = JSON.stringify(items);
  if (now === drawn) return;
  drawn = now;
  bars.clear();
  list.replaceChildren(...items.map(lineOf));
  for (const [id, url] of pictures) {
    if (items.some((i) => i.id === id)) continue;
    URL.revokeObjectURL(url);
    pictures.delete(id);
  }
  root.hidden = items.length === 0;
  empty.hidden = items.length > 0;
  all.hidden = !items.some((i) => i.state === "waiting");
}

queue.on((message) => {
  if (message.sending) {
    const bar = bars.get(message.sending);
    if (!bar) return;
    bar.hidden = false;
    bar.value = 100 * (message.part ?? 0);
    bar.closest("li").querySelector("[data-state]").textContent = words.wordSending;
  } else if (message.changed) draw();
});

all.querySelector("button").addEventListener("click", send);
draw().catch(() => { document.querySelector("[data-outbox-nostore]").hidden = false; });
