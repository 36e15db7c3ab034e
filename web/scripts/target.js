// The wanted outline is bent with a finger. The numbers of the form are the truth: this script moves them, and draws them.
import { Easel, control, path, bent } from "./easel.js";

const root = document.querySelector("[data-target]");
const words = root.dataset;
const part = (name) => root.querySelector(`[data-${name}]`);
const parts = (name) => [...root.querySelectorAll(`[data-${name}]`)];
const fields = parts("line");
const svg = "http://www.w3.org/2000/svg";

const places = (field) => field.value.split("\n").map((l) => l.trim().split(/[\s,;]+/).map(Number)).filter((p) => p.length === 2 && p.every(Number.isFinite)).flat();
const text = (flat) => Array.from({ length: flat.length / 2 }, (_, i) => `${Math.round(flat[2 * i] * 10) / 10} ${Math.round(flat[2 * i + 1] * 10) / 10}`).join("\n");
const said = (words) => { part("status").textContent = words; };

let tool = "bend", size = 80, easel, pull = null, chosen = null;
const past = [], future = [];
const snapshot = () => fields.map((f) => f.value);
const restore = (s) => s.forEach((v, i) => { fields[i].value = v; });
function remember() {
  past.push(snapshot());
  if (past.length > 100) past.shift();
  future.length = 0;
}

function draw() {
  const out = fields.flatMap((f) => ["edge-halo", "target-line"].map((name) => {
    const p = document.createElementNS(svg, "path");
    p.setAttribute("d", path(places(f)));
    p.setAttribute("class", name);
    p.setAttribute("vector-effect", "non-scaling-stroke");
    return p;
  }));
  if (chosen) {
    const c = document.createElementNS(svg, "circle");
    c.setAttribute("cx", chosen.x + 0.5);
    c.setAttribute("cy", chosen.y + 0.5);
    c.setAttribute("r", easel.screen(6));
    c.setAttribute("class", "edge-place");
    c.setAttribute("vector-effect", "non-scaling-stroke");
    out.push(c);
  }
  part("drawn").replaceChildren(...out);
  for (const name of ["undo", "redo"]) root.querySelector(`[data-do="${name}"]`).disabled = (name === "undo" ? past : future).length === 0;
}

// closest place of both lines to where a finger is.
function closest(p) {
  let best = null;
  fields.forEach((field) => {
    const v = places(field);
    for (let i = 0; i + 3 < v.length; i += 2) {
      const ex = v[i + 2] - v[i], ey = v[i + 3] - v[i + 1], l = ex * ex + ey * ey;
      const k = l > 0 ? Math.min(1, Math.max(0, ((p.x - v[i]) * ex + (p.y - v[i + 1]) * ey) / l)) : 0;
      const x = v[i] + k * ex, y = v[i + 1] + k * ey, d = Math.hypot(x - p.x, y - p.y);
      if (!best || d < best.d) best = { field, x, y, d };
    }
  });
  return best;
}

function bendTo(to) {
  const { field, from, flat, reach } = pull;
  field.value = text(bent(flat, from, to, reach));
  chosen = { field, x: to.x, y: to.y };
  draw();
}
function hold(from) {
  remember();
  pull = { field: from.field, from: { x: from.x, y: from.y }, flat: places(from.field), reach: easel.screen(size) };
}

const hand = {
  begin(p, event) {
    if (tool !== "bend") return false;
    const c = closest(p);
    if (!c || c.d > easel.screen(70)) {
      said(words.wordFar);
      return false;
    }
    hold(c);
    // Near the line the finger takes it where it is; farther off, the line comes to the finger.
    pull.off = c.d < easel.screen(26) ? { x: c.x - p.x, y: c.y - p.y } : { x: 0, y: 0 };
    this.move(p, event);
    return true;
  },
  move(p, event) {
    const to = { x: p.x + pull.off.x, y: p.y + pull.off.y };
    bendTo(to);
    easel.showLoupe(event, to);
  },
  lift() {
    pull = null;
    part("nudges").hidden = false;
    said(words.wordBend);
    draw();
  },
  drop() {
    pull = null;
    restore(past.pop());
    draw();
  },
};

function nudge(dx, dy) {
  if (!chosen) {
    const r = part("stage").getBoundingClientRect();
    chosen = closest(easel.place({ clientX: r.left + r.width / 2, clientY: r.top + r.height / 2 }));
    part("nudges").hidden = false;
    return draw();
  }
  hold(chosen);
  const unit = Math.max(1, easel.W / 2016);
  bendTo({ x: chosen.x + dx * unit, y: chosen.y + dy * unit });
  pull = null;
}
const acts = {
  undo() { if (past.length) { future.push(snapshot()); restore(past.pop()); chosen = null; draw(); } },
  redo() { if (future.length) { past.push(snapshot()); restore(future.pop()); chosen = null; draw(); } },
  nearer() { easel.zoom(1.5); draw(); },
  farther() { easel.zoom(1 / 1.5); draw(); },
  whole() { easel.whole(around()); draw(); },
};
function around() {
  const v = fields.flatMap(places), xs = v.filter((_, i) => i % 2 === 0), ys = v.filter((_, i) => i % 2 === 1), m = 0.06 * easel.W;
  if (xs.length < 2) return null;
  const x = Math.min(...xs) - m, y = Math.min(...ys) - m;
  return { x, y, w: Math.max(...xs) + m - x, h: Math.max(...ys) + m - y };
}

const stage = part("stage");
stage.tabIndex = 0;
stage.setAttribute("role", "application");
stage.setAttribute("aria-label", document.querySelector("h1").textContent);
stage.setAttribute("aria-describedby", "target-keys");
stage.dataset.tool = tool;
easel = new Easel({ stage, sheet: part("sheet"), loupe: part("loupe"), width: Number(words.width), height: Number(words.height), view: words.view, lines: part("lines"), hand });
part("tools").hidden = false;
for (const b of parts("tool")) {
  if (b.tagName !== "BUTTON") continue;
  b.addEventListener("click", () => {
    tool = b.dataset.tool;
    stage.dataset.tool = tool;
    for (const o of parts("tool")) if (o.tagName === "BUTTON") o.setAttribute("aria-pressed", String(o === b));
  });
}
for (const b of parts("size")) {
  b.addEventListener("click", () => {
    size = Number(b.dataset.size);
    for (const o of parts("size")) o.setAttribute("aria-pressed", String(o === b));
  });
}
for (const f of fields) f.addEventListener("input", draw);
control(root, stage, acts, nudge);
acts.whole();
