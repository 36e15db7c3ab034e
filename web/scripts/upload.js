// Photos are put into the browser's own store at once and go up one by one from there (queue.js), each with its own bar: a
// reload, a locked phone or lost Wi-Fi loses none. A row says "stored" only after the server has said so: the row that comes
// back is the server's own. Where the browser cannot keep them they go straight up, and it says so. Without this script the
// form sends all files at once.

import * as queue from "./queue.js";

const form = document.querySelector("[data-upload]");
const section = document.querySelector("[data-upload-rows]").closest("section");
const rows = section.querySelector("[data-upload-rows]");
const words = form.dataset;
const me = document.body.dataset.me ?? "";
const to = form.getAttribute("action");
const mostBytes = 40 * 1024 * 1024;

form.querySelector("[data-upload-send]").hidden = true;

for (const input of form.querySelectorAll('input[type="file"]')) {
  input.addEventListener("change", () => {
    take([...input.files]);
    input.value = "";
  });
}
form.addEventListener("submit", (event) => event.preventDefault());

for (const kind of ["dragover", "drop"]) {
  document.addEventListener(kind, (event) => {
    if (![...(event.dataTransfer?.types ?? [])].includes("Files")) return;
    event.preventDefault();
    if (kind === "drop") take([...event.dataTransfer.files]);
  });
}

const shown = new Map(); // what waits, and its row

async function take(files) {
  for (const file of files) {
    if (file.size > mostBytes) {
      refuse(row(file.name), words.wordLarge);
      continue;
    }
    const job = row(file.name);
    try {
      if (!me) throw new Error("nobody is signed in");
      const item = await queue.keep({ kind: "photo", me, to, name: file.name, size: file.size, dog: document.querySelector(".dogbar-name")?.textContent ?? "", page: location.pathname }, file);
      shown.set(item.id, job);
      say(job, words.wordWaiting);
    } catch {
      straight(file, job); // no store, or no room in it
    }
  }
  if (files.length) navigator.storage?.persist?.().catch(() => {}); // so that the browser does not clear it for room
  document.dispatchEvent(new Event("outbox:send"));
}

function row(name) {
  section.hidden = false;
  const li = document.createElement("li");
  li.className = "up";
  const body = document.createElement("div");
  body.className = "up-words";
  const file = document.createElement("p");
  file.className = "up-file";
  file.textContent = name;
  const state = document.createElement("p");
  state.textContent = words.wordWaiting;
  const bar = document.createElement("progress");
  bar.max = 100;
  bar.value = 0;
  bar.setAttribute("aria-label", name);
  body.append(file, bar, state);
  li.append(body);
  rows.append(li);
  return { li, bar, state };
}

const say = (job, text) => { if (job.state.textContent !== text) job.state.textContent = text; };

function moved(job, part) {
  job.bar.value = 100 * part;
  say(job, part === 1 ? words.wordKeeping : words.wordSending);
}

// What becomes of each, whoever sends it: this page, another tab, or the phone while nothing is open.
queue.on((message) => {
  const id = message.sending ?? message.done ?? message.failed;
  const job = shown.get(id);
  if (!job) return;
  if (message.sending) return moved(job, message.part ?? 0);
  const fresh = parse(message.row);
  if (message.done) {
    shown.delete(id);
    if (fresh) job.li.replaceWith(fresh);
    else job.li.remove();
    return pressed();
  }
  job.bar.value = 0;
  if (message.why === "refused") {
    refuse(job, message.say || words.wordRefused);
    job.li.append(link(words.wordOutbox));
  } else say(job, message.why === "signin" ? words.wordSignin : message.lost ? words.wordNetwork : words.wordLater);
});

function link(text) {
  const a = document.createElement("a");
  a.className = "button button-plain";
  a.href = "/outbox";
  a.textContent = text;
  return a;
}

// What waits from before is shown again.
if (me) {
  queue.all(me).then((items) => {
    for (const item of items) {
      if (item.kind !== "photo" || item.to !== to || item.state !== "waiting" || shown.has(item.id)) continue;
      shown.set(item.id, row(item.name));
    }
  }).catch(() => {});
}

// Straight to the server, one after the other.
let line = Promise.resolve();
function straight(file, job) {
  const note = document.querySelector("[data-upload-nostore]");
  if (note) note.hidden = false;
  line = line.then(() => new Promise((resolve) => {
    say(job, words.wordSending);
    const body = new FormData();
    body.append("photos", file, file.name);
    const request = new XMLHttpRequest();
    request.open("POST", to);
    request.setRequestHeader("Accept", "text/x-rows");
    request.upload.addEventListener("progress", (event) => { if (event.lengthComputable) moved(job, event.loaded / event.total); });
    request.addEventListener("loadend", () => {
      const fresh = parse(request.responseText);
      if (request.status && fresh) {
        job.li.replaceWith(fresh);
        pressed();
      } else {
        refuse(job, words.wordLost);
        const button = document.createElement("button");
        button.type = "button";
        button.className = "button button-plain";
        button.textContent = words.wordAgain;
        button.addEventListener("click", () => {
          job.li.remove();
          straight(file, row(file.name));
        });
        job.li.append(button);
      }
      resolve();
    });
    request.send(body);
  }));
}

// parse takes the row out of the server's answer; an answer that has none (an error page, a proxy's) is no row.
function parse(html) {
  return new DOMParser().parseFromString(html ?? "", "text/html").querySelector("li.up");
}

function refuse(job, text) {
  job.bar.remove();
  job.li.classList.add("up-refused");
  job.state.textContent = text;
  job.state.className = "up-fault";
}

// How the coat lies: a tap for all rows, or for one, is kept without leaving the page.
const all = document.querySelector("[data-taps-all]");
const word = all?.querySelector("[data-taps-word]");

function pressed() {
  if (!all) return;
  const fresh = [...rows.querySelectorAll("li[data-new]")];
  all.hidden = fresh.length === 0;
  for (const button of all.querySelectorAll('[name="coat_state"]')) button.setAttribute("aria-pressed", String(fresh.length > 0 && fresh.every((row) => row.dataset.coat === button.value)));
}

document.addEventListener("submit", async (event) => {
  const taps = event.target;
  if (!all || !taps.matches("[data-taps]") || !event.submitter) return;
  event.preventDefault();
  const of = taps === all ? [...rows.querySelectorAll("li[data-new]")] : [taps.closest("li")];
  const body = new URLSearchParams();
  for (const row of of) body.append("photo", `${row.dataset.photo} ${row.dataset.rev}`);
  body.append(event.submitter.name, event.submitter.value);
  word.textContent = "";
  try {
    const answer = await fetch(taps.action, { method: "POST", body, headers: { Accept: "text/x-rows" } });
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    const back = page.querySelectorAll("li[data-photo]");
    if (!back.length) throw new Error("no rows");
    for (const row of back) {
      const old = rows.querySelector(`li[data-photo="${row.dataset.photo}"]`);
      if (!old) continue;
      row.toggleAttribute("data-new", old.hasAttribute("data-new"));
      old.replaceWith(row);
      if (taps !== all) row.querySelector("summary").focus();
    }
    if (taps === all && event.submitter.name === "phase" && answer.ok) for (const button of all.querySelectorAll('[name="phase"]')) button.setAttribute("aria-pressed", String(button === event.submitter));
    if (!answer.ok) word.textContent = all.dataset.wordSome;
  } catch {
    word.textContent = all.dataset.wordLost;
  }
  pressed();
});
