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
    if (request.status && fresh) job.row.replaceWith(fresh);
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
