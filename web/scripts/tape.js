// Two marks of a tape are pointed at. The numbers of the form are the truth: this script moves them, and draws them. A mark
// that nobody has pointed at has no numbers: it is shown broken, where it may be.
import { Easel, control, path } from "./easel.js";

const root = document.querySelector("[data-tape]");
const words = root.dataset;
const part = (name) => root.querySelector(`[data-${name}]`);
const W = Number(words.width), H = Number(words.height);
const svg = "http://www.w3.org/2000/svg";
const reach = 30; // px of the screen within which a finger means a mark that is there

const marks = [...root.querySelectorAll("[data-mark]")].map((row) => ({
  row,
  name: row.dataset.mark,
  x: row.querySelector(`[name="${row.dataset.mark}x"]`),
  y: row.querySelector(`[name="${row.dataset.mark}y"]`),
  guess: { x: Number(row.dataset.atX), y: Number(row.dataset.atY) },
}));
const number = (field) => parseFloat(field.value.replace(",", "."));
const placed = (m) => Number.isFinite(number(m.x)) && Number.isFinite(number(m.y));
const at = (m) => (placed(m) ? { x: number(m.x), y: number(m.y) } : m.guess);

let tool = "a", easel, pull = null;
const chosen = () => marks.find((m) => m.name === tool) ?? marks[0];
const past = [], future = [];
const snapshot = () => marks.map((m) => [m.x.value, m.y.value]);
const restore = (s) => s.forEach(([x, y], i) => { marks[i].x.value = x; marks[i].y.value = y; });
function remember() {
  past.push(snapshot());
  if (past.length > 100) past.shift();
  future.length = 0;
}
const clamp = (v, most) => Math.min(most - 1, Math.max(0, v));
function put(m, p) {
  m.x.value = (Math.round(clamp(p.x, W) * 10) / 10).toString();
  m.y.value = (Math.round(clamp(p.y, H) * 10) / 10).toString();
}

function shape(name, attributes) {
  const e = document.createElementNS(svg, name);
  for (const [k, v] of Object.entries({ "vector-effect": "non-scaling-stroke", ...attributes })) e.setAttribute(k, v);
  return e;
}
function draw() {
  const [a, b] = marks.map(at), line = path([a.x, a.y, b.x, b.y]);
  const out = [];
  if (marks.every(placed)) out.push(shape("path", { class: "edge-halo", d: line }), shape("path", { class: "tape-line", d: line }));
  for (const m of marks) {
    const p = at(m), r = easel.screen(13), s = easel.screen(22);
    const cross = `M${p.x + 0.5 - s} ${p.y + 0.5}h${s - r * 0.4}M${p.x + 0.5 + s} ${p.y + 0.5}h${r * 0.4 - s}M${p.x + 0.5} ${p.y + 0.5 - s}v${s - r * 0.4}M${p.x + 0.5} ${p.y + 0.5 + s}v${r * 0.4 - s}`;
    const is = (placed(m) ? "" : " tape-guess") + (m === chosen() ? " tape-chosen" : "");
    out.push(shape("path", { class: "tape-halo", d: cross }), shape("path", { class: `tape-cross${is}`, d: cross }), shape("circle", { class: `tape-ring${is}`, cx: p.x + 0.5, cy: p.y + 0.5, r }));
  }
  part("drawn").replaceChildren(...out);
  root.querySelector('[data-do="undo"]').disabled = !past.length;
  root.querySelector('[data-do="redo"]').disabled = !future.length;
}
function choose(name) {
  tool = name;
  part("stage").dataset.tool = name === "look" ? "look" : "drag";
  for (const b of root.querySelectorAll("button[data-tool]")) b.setAttribute("aria-pressed", String(b.dataset.tool === name));
  draw();
}
function say() {
  const open = marks.find((m) => !placed(m));
  part("status").textContent = marks.every((m) => !placed(m)) ? words.wordBegin : open ? words.wordNext.replace("‹mark›", open.row.dataset.word) : words.wordPlaced;
}

const hand = {
  begin(p, event) {
    if (tool === "look") return false;
    let best = null, least = easel.screen(reach);
    for (const m of marks) {
      const q = at(m), d = Math.hypot(q.x - p.x, q.y - p.y);
      if (placed(m) && d < least) [best, least] = [m, d];
    }
    remember();
    if (best) choose(best.name);
    const q = at(chosen());
    pull = best ? { x: q.x - p.x, y: q.y - p.y } : { x: 0, y: 0 };
    pull.fresh = !best && !placed(chosen());
    this.move(p, event);
    return true;
  },
  move(p, event) {
    put(chosen(), { x: p.x + pull.x, y: p.y + pull.y });
    draw();
    easel.showLoupe(event, at(chosen()));
  },
  lift() {
    const open = pull.fresh && marks.find((m) => !placed(m));
    pull = null;
    if (open) choose(open.name);
    else draw();
    say();
  },
  drop() {
    pull = null;
    restore(past.pop());
    draw();
  },
};

function nudge(dx, dy) {
  const m = chosen(), q = at(m), unit = Math.max(1, W / 2016);
  remember();
  put(m, { x: q.x + dx * unit, y: q.y + dy * unit });
  draw();
  say();
}
function around() {
  if (!marks.every(placed)) return null;
  const [a, b] = marks.map(at), m = 0.08 * W;
  const x = Math.min(a.x, b.x) - m, y = Math.min(a.y, b.y) - m;
  return { x, y, w: Math.abs(a.x - b.x) + 2 * m, h: Math.abs(a.y - b.y) + 2 * m };
}
const acts = {
  undo() { if (past.length) { future.push(snapshot()); restore(past.pop()); draw(); say(); } },
  redo() { if (future.length) { past.push(snapshot()); restore(future.pop()); draw(); say(); } },
  nearer() { const q = at(chosen()); easel.whole({ x: q.x - W / 16, y: q.y - H / 16, w: W / 8, h: H / 8 }); easel.box = null; draw(); },
  farther() { easel.zoom(1 / 1.5); draw(); },
  whole() { easel.whole(around()); draw(); },
};

const stage = part("stage");
stage.tabIndex = 0;
stage.setAttribute("role", "application");
stage.setAttribute("aria-label", document.querySelector("h1").textContent);
stage.setAttribute("aria-describedby", "tape-keys");
easel = new Easel({ stage, sheet: part("sheet"), loupe: part("loupe"), width: W, height: H, view: words.view, lines: part("lines"), hand });
part("tools").hidden = false;
for (const b of root.querySelectorAll("button[data-tool]")) b.addEventListener("click", () => choose(b.dataset.tool));
for (const m of marks) for (const field of [m.x, m.y]) field.addEventListener("input", () => { draw(); say(); });
control(root, stage, acts, nudge, { 1: () => choose(marks[0].name), 2: () => choose(marks[1].name) });
choose(marks.find((m) => !placed(m))?.name ?? "a");
say();
