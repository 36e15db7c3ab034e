// Points are placed with a finger, a mouse or keys. The numbers of the form are the truth: this script moves them, and draws
// them on the photo. A pixel is a pixel of the upright original; the centre of the top left one is (0, 0).

const form = document.querySelector("[data-points]");
const stage = form.querySelector("[data-stage]");
const marks = form.querySelector("[data-marks]");
const loupe = form.querySelector("[data-loupe]");
const now = form.querySelector("[data-now]");
const moved = form.querySelector("[data-moved]");
const W = Number(form.dataset.width), H = Number(form.dataset.height);
const reach = 26; // px of the screen within which a finger means an existing point
const zoom = 3;

form.querySelector("[data-tools]").hidden = false;
loupe.style.backgroundImage = `url("${form.dataset.view}")`;

const points = [...form.querySelectorAll("[data-point]")].map((row) => ({
  row,
  name: row.dataset.name,
  says: row.dataset.says,
  x: row.querySelector('input[name^="x."]'),
  y: row.querySelector('input[name^="y."]'),
  pick: row.querySelector("[data-pick]"),
  word: row.querySelector("[data-look-word]"),
  look: row.dataset.look ?? "", // of a proposal: "sure", "check", or "usual"; "" placed by a person
  onEdge: ["occiput", "withers", "mid_back", "tail_set", "buttock", "prosternum"].includes(row.dataset.point),
  snapped: false,
}));
let chosen = Math.max(0, points.findIndex((p) => !at(p)));

function at(p) {
  const x = parseFloat(p.x.value.replace(",", ".")), y = parseFloat(p.y.value.replace(",", "."));
  return Number.isFinite(x) && Number.isFinite(y) ? { x, y } : null;
}

const past = [], future = [];
const snapshot = () => points.map((p) => [p.x.value, p.y.value, p.look]);
const restore = (s) => s.forEach(([x, y, look], i) => { points[i].x.value = x; points[i].y.value = y; points[i].look = look; });
function remember() {
  past.push(snapshot());
  if (past.length > 200) past.shift();
  future.length = 0;
}

const clamp = (v, most) => Math.min(most - 1, Math.max(0, v));
function put(p, x, y) {
  p.x.value = (Math.round(clamp(x, W) * 10) / 10).toString();
  p.y.value = (Math.round(clamp(y, H) * 10) / 10).toString();
  p.look = "";
}

function draw() {
  const size = W / Math.max(1, stage.clientWidth);
  marks.replaceChildren(...points.flatMap((p, i) => {
    const xy = at(p);
    if (!xy) return [];
    const g = document.createElementNS(marks.namespaceURI, "g");
    g.setAttribute("class", "points-mark" + (i === chosen ? " points-chosen" : "") + (p.look ? ` points-${p.look}` : ""));
    g.setAttribute("transform", `translate(${xy.x} ${xy.y}) scale(${size})`);
    g.innerHTML = '<circle r="11"/>' + (p.look === "usual" ? '<path d="M-6-6L6 6M6-6L-6 6"/>' : '<circle r="2.2" class="points-dot"/>');
    return [g];
  }));
  points.forEach((p, i) => {
    p.pick.hidden = false;
    p.pick.setAttribute("aria-pressed", String(i === chosen));
    p.row.classList.toggle("points-placed", !!at(p));
    p.row.dataset.look = at(p) ? p.look : "";
    if (p.word) p.word.hidden = !p.look || !at(p);
  });
  const p = points[chosen], xy = at(p);
  now.textContent = `${chosen + 1}/${points.length} ${p.name}: ${p.says}` + (xy ? ` (${Math.round(xy.x)}, ${Math.round(xy.y)})` : "");
}

function choose(i) {
  chosen = (i + points.length) % points.length;
  draw();
}
function chooseNext() {
  for (let k = 1; k <= points.length; k++) {
    const i = (chosen + k) % points.length;
    if (!at(points[i]) || points[i].look) return choose(i);
  }
  choose(chosen + 1);
}

function place(event) {
  const box = stage.getBoundingClientRect();
  return { x: ((event.clientX - box.left) / box.width) * W - 0.5, y: ((event.clientY - box.top) / box.height) * H - 0.5, box };
}

// The loupe stands beside the finger, on the side where there is room, and shows what is under the cross.
function showLoupe(event, xy) {
  const box = stage.getBoundingClientRect();
  const d = 132, gap = 42;
  const px = event.clientX - box.left, py = event.clientY - box.top;
  const left = px > box.width / 2 ? px - gap - d : px + gap;
  loupe.hidden = false;
  loupe.style.left = `${Math.min(Math.max(left, 0), box.width - d)}px`;
  loupe.style.top = `${Math.min(Math.max(py - d / 2, 0), Math.max(0, box.height - d))}px`;
  loupe.style.backgroundSize = `${box.width * zoom}px ${box.height * zoom}px`;
  loupe.style.backgroundPosition = `${d / 2 - ((xy.x + 0.5) / W) * box.width * zoom}px ${d / 2 - ((xy.y + 0.5) / H) * box.height * zoom}px`;
}

let drag = null;
stage.addEventListener("pointerdown", (event) => {
  if (event.button !== 0) return;
  event.preventDefault();
  stage.focus({ preventScroll: true });
  stage.setPointerCapture(event.pointerId);
  const p = place(event);
  let best = -1, bestD = reach;
  points.forEach((q, i) => {
    const xy = at(q);
    if (!xy) return;
    const d = Math.hypot(((xy.x - p.x) / W) * p.box.width, ((xy.y - p.y) / H) * p.box.height);
    if (d < bestD || (i === chosen && d < reach && best < 0)) [best, bestD] = [i, d];
  });
  remember();
  if (best >= 0) {
    chosen = best;
    const xy = at(points[best]);
    drag = { dx: xy.x - p.x, dy: xy.y - p.y, fresh: false };
    showLoupe(event, xy);
  } else {
    put(points[chosen], p.x, p.y);
    drag = { dx: 0, dy: 0, fresh: true };
    showLoupe(event, p);
  }
  draw();
});
stage.addEventListener("pointermove", (event) => {
  if (!drag) return;
  const p = place(event);
  drag.moved = true;
  put(points[chosen], p.x + drag.dx, p.y + drag.dy);
  showLoupe(event, at(points[chosen]));
  draw();
});
// A point that lies on the coat's edge, tapped close beside it, goes onto the edge that was found: straight onto its nearest
// place, a hundredth of the body's length at most. Undo gives the tap back; the same point placed again stays where it is.
let edge = null;
if (form.dataset.edgeAt) {
  fetch(form.dataset.edgeAt, { headers: { Accept: "application/json" } }).then((a) => (a.ok ? a.json() : null)).then((shape) => { edge = shape; }, () => {});
}
const bodyPX = () => {
  const by = (name) => at(points.find((p) => p.row.dataset.point === name));
  const front = by("prosternum"), rear = by("buttock");
  return front && rear ? Math.hypot(front.x - rear.x, front.y - rear.y) : edge.body_px;
};
function nearestOnEdge(q) {
  const v = edge.polygon;
  let best = null, least = Infinity;
  for (let i = 0; i + 1 < v.length; i += 2) {
    const j = (i + 2) % v.length;
    const ex = v[j] - v[i], ey = v[j + 1] - v[i + 1], l = ex * ex + ey * ey;
    const k = l > 0 ? Math.min(1, Math.max(0, ((q.x - v[i]) * ex + (q.y - v[i + 1]) * ey) / l)) : 0;
    const x = v[i] + k * ex, y = v[i + 1] + k * ey, d = Math.hypot(x - q.x, y - q.y);
    if (d < least) [best, least] = [{ x, y }, d];
  }
  return { at: best, d: least };
}
function ontoEdge(p) {
  moved.textContent = "";
  if (!edge || !p.onEdge || p.snapped || edge.polygon.length < 6) return;
  const to = nearestOnEdge(at(p));
  if (to.d > 0.01 * bodyPX() || to.d < 0.3) return;
  remember();
  put(p, to.at.x, to.at.y);
  p.snapped = true;
  moved.textContent = form.dataset.wordMoved.replace("‹point›", p.name).replace("‹px›", Math.max(1, Math.round(to.d)));
}

const lift = () => {
  if (!drag) return;
  const { fresh, moved: pulled } = drag;
  drag = null;
  loupe.hidden = true;
  points[chosen].look = "";
  if (fresh || pulled) ontoEdge(points[chosen]);
  if (fresh) chooseNext();
  else draw();
};
stage.addEventListener("pointerup", lift);
stage.addEventListener("pointercancel", lift);

function nudge(dx, dy) {
  const p = points[chosen];
  remember();
  p.snapped = true; // her word counts from now on
  const xy = at(p) ?? { x: W / 2, y: H / 2 };
  put(p, xy.x + dx, xy.y + dy);
  draw();
}
const acts = {
  undo() { if (past.length) { future.push(snapshot()); restore(past.pop()); draw(); } },
  redo() { if (future.length) { past.push(snapshot()); restore(future.pop()); draw(); } },
  clear() { remember(); points[chosen].x.value = points[chosen].y.value = ""; points[chosen].snapped = false; draw(); },
  next() { points[chosen].look = ""; chooseNext(); },
};
stage.addEventListener("keydown", (event) => {
  const step = event.shiftKey ? 10 : 1;
  const moves = { ArrowLeft: [-step, 0], ArrowRight: [step, 0], ArrowUp: [0, -step], ArrowDown: [0, step] };
  const key = event.key;
  if (moves[key]) nudge(...moves[key]);
  else if ((event.ctrlKey || event.metaKey) && key.toLowerCase() === "z") acts[event.shiftKey ? "redo" : "undo"]();
  else if ((event.ctrlKey || event.metaKey) && key.toLowerCase() === "y") acts.redo();
  else if (event.ctrlKey || event.metaKey || event.altKey) return;
  else if (key === "Enter" || key === "n") acts.next();
  else if (key === "p") choose(chosen - 1);
  else if (key === "Delete" || key === "Backspace") acts.clear();
  else return;
  event.preventDefault();
});
for (const button of form.querySelectorAll("[data-nudge]")) {
  const [dx, dy] = button.dataset.nudge.split(" ").map(Number);
  button.addEventListener("click", () => nudge(dx, dy));
}
for (const button of form.querySelectorAll("[data-do]")) button.addEventListener("click", () => acts[button.dataset.do]());
points.forEach((p, i) => {
  p.pick.addEventListener("click", () => { choose(i); stage.focus({ preventScroll: true }); });
  for (const input of [p.x, p.y]) {
    input.addEventListener("focus", () => choose(i));
    input.addEventListener("input", () => { p.look = ""; draw(); });
  }
});
new ResizeObserver(draw).observe(stage);
draw();
