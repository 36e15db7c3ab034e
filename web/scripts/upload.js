// Photos go up one by one, each with its own bar. A row says "stored" only after the server has said so: the row that comes
// back is the server's own. Without this script the form sends all files at once.

const form = document.querySelector("[data-upload]");
const section = document.querySelector("[data-upload-rows]").closest("section");
const rows = section.querySelector("[data-upload-rows]");
const words = form.dataset;
const mostBytes = 40 * 1024 * 1024;

form.querySelector("[data-upload-send]").hidden = true;

const queue = [];
let busy = false;

for (const input of form.querySelectorAll('input[type="file"]')) {
  input.addEventListener("change", () => {
    for (const file of input.files) add(file);
    input.value = "";
    next();
  });
}
form.addEventListener("submit", (event) => event.preventDefault());

for (const kind of ["dragover", "drop"]) {
  document.addEventListener(kind, (event) => {
    if (![...(event.dataTransfer?.types ?? [])].includes("Files")) return;
    event.preventDefault();
    if (kind !== "drop") return;
    for (const file of event.dataTransfer.files) add(file);
    next();
  });
}

function add(file) {
  section.hidden = false;
  const row = document.createElement("li");
  row.className = "up";
  const body = document.createElement("div");
  body.className = "up-words";
  const name = document.createElement("p");
  name.className = "up-file";
  name.textContent = file.name;
  const state = document.createElement("p");
  state.textContent = words.wordWaiting;
  const bar = document.createElement("progress");
  bar.max = 100;
  bar.value = 0;
  bar.setAttribute("aria-label", file.name);
  body.append(name, bar, state);
  row.append(body);
  rows.append(row);
  const job = { file, row, bar, state };
  if (file.size > mostBytes) {
    refuse(job, words.wordLarge, false);
    return;
  }
  queue.push(job);
}

function next() {
  if (busy) return;
  const job = queue.shift();
  if (!job) return;
  busy = true;
  job.state.textContent = words.wordSending;
  const body = new FormData();
  body.append("photos", job.file, job.file.name);
  const request = new XMLHttpRequest();
  request.open("POST", form.action);
  request.setRequestHeader("Accept", "text/x-rows");
  request.upload.addEventListener("progress", (event) => {
    if (!event.lengthComputable) return;
    job.bar.value = (100 * event.loaded) / event.total;
    if (event.loaded === event.total) job.state.textContent = words.wordKeeping;
  });
  request.addEventListener("loadend", () => {
    busy = false;
    const fresh = parse(request.responseText);
    if (request.status && fresh) {
      job.row.replaceWith(fresh);
      pressed();
    }
    else refuse(job, words.wordLost, true);
    next();
  });
  request.send(body);
}

// parse takes the row out of the server's answer; an answer that has none (an error page, a proxy's) is no row.
function parse(html) {
  return new DOMParser().parseFromString(html ?? "", "text/html").querySelector("li.up");
}

function refuse(job, say, again) {
  job.bar.remove();
  job.row.classList.add("up-refused");
  job.state.textContent = say;
  job.state.className = "up-fault";
  if (!again) return;
  const button = document.createElement("button");
  button.type = "button";
  button.className = "button button-plain";
  button.textContent = words.wordAgain;
  button.addEventListener("click", () => {
    const file = job.file;
    job.row.remove();
    add(file);
    next();
  });
  job.row.append(button);
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
