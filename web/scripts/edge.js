// The edge under the finger: look, paint in, paint out, pull, undo. Every correction is kept at once on the salon's computer,
// which finds the edge anew near it. Forms stay forms: this script sends them without leaving the photo.
import { Easel, control, path, nearest, bent } from "./easel.js";

const root = document.querySelector("[data-edge]");
const words = root?.dataset ?? {};
const part = (name) => root.querySelector(`[data-${name}]`);
const parts = (name) => [...root.querySelectorAll(`[data-${name}]`)];
const svg = "http://www.w3.org/2000/svg";

let shape = { rev: Number(words.rev), polygon: [], holes: [], runs: [], zones: [] };
let tool = "look", size = 12;
let easel;

const said = (text) => { part("status").textContent = text; };

// draw puts path data into a group; a stretch is drawn over its light halo.
function line(d, kind, halo, zone) {
  const one = (name) => {
    const p = document.createElementNS(svg, "path");
    if (zone && name === kind) p.dataset.run = zone;
    p.setAttribute("d", d);
    p.setAttribute("class", name);
    p.setAttribute("vector-effect", "non-scaling-stroke");
    return p;
  };
  return halo ? [one("edge-halo"), one(kind)] : [one(kind)];
}

let shown = "";
function drawRuns() {
  const g = part("runs");
  const runs = shape.runs.map((r) => [r, `edge-run edge-${r.state}${r.zone && r.zone === shown ? " edge-shown" : ""}`]);
  g.replaceChildren(...(shape.holes_d ? line(shape.holes_d, "edge-run edge-hole", true) : []), ...runs.flatMap(([r, kind]) => line(r.d, kind, true, r.zone)));
}

function drawList() {
  part("right-part").hidden = !shape.rev;
  for (const input of root.querySelectorAll('input[name="rev"]')) input.value = shape.rev;
  const why = part("why");
  why.hidden = !shape.why;
  if (shape.why) why.firstChild.textContent = shape.why + " ";
  part("zones").hidden = part("legend").hidden = !!shape.why;
  part("how").textContent = shape.how;
  let top = 0, open = 0;
  for (const z of shape.zones) {
    const row = root.querySelector(`[data-zone="${z.zone}"]`);
    row.dataset.state = z.state;
    row.querySelector("[data-says]").textContent = z.says;
    const right = row.querySelector("[data-right]"), is = z.state === "right";
    right.value = `${is ? "unsaid" : "right"} ${z.zone}`;
    right.setAttribute("aria-pressed", String(is));
    right.classList.toggle("button-plain", !is);
    right.disabled = z.state === "absent";
    for (const b of row.querySelectorAll("[data-reason]")) {
      const on = b.dataset.reason === z.why;
      b.value = `${on ? "unsaid" : b.dataset.reason} ${z.zone}`;
      b.setAttribute("aria-pressed", String(on));
    }
    if (row.parentElement.previousElementSibling?.matches("[data-topline]")) {
      top += is;
      open += z.state === "open" || z.state === "look";
    }
  }
  const all = part("topline"), done = top > 0 && open === 0;
  all.value = `${done ? "unsaid" : "right"} topline`;
  all.querySelector("[data-right-word]").textContent = done ? words.wordUntopline : words.wordTopline;
  all.classList.toggle("button-plain", done);
}

// take is the edge as the salon's computer has it now.
function take(next) {
  shape = next;
  chosen = null;
  part("nudges").hidden = true;
  drawRuns();
  drawMarks();
  drawList();
  button("undo").disabled = past.length === 0;
  button("redo").disabled = future.length === 0;
}

class Refused extends Error {}
async function send(url, fields) {
  const answer = await fetch(url, { method: fields ? "POST" : "GET", body: fields && new URLSearchParams(fields), headers: { Accept: "application/json" } });
  const body = await answer.json();
  if (!answer.ok) throw Object.assign(new Refused(body.fault), { status: answer.status });
  return body;
}

// What was drawn waits here until it is kept; a correction made meanwhile waits behind it.
let busy = false;
const waiting = [];
const past = [], future = [];
const snapshot = () => ({ polygon: shape.polygon, holes: shape.holes, confirmed: shape.zones.filter((z) => z.state === "right").map((z) => z.zone) });

async function keep(work, tell) {
  if (busy) return;
  busy = true;
  root.setAttribute("aria-busy", "true");
  said(tell);
  try {
    take(await work());
    said(`${words.wordKept} ${shape.says}`);
  } catch (e) {
    if (!(e instanceof Refused)) {
      lost();
    } else {
      waiting.length = 0;
      said(e.message);
      if (e.status === 409) {
        past.length = future.length = 0;
        take(await send(`${words.at}/shape`).catch(() => shape));
        said(e.message);
      }
    }
  } finally {
    busy = false;
    root.removeAttribute("aria-busy");
    drawMarks();
  }
}

function lost() {
  said(words.wordLost);
  const again = document.createElement("button");
  again.type = "button";
  again.className = "button button-plain";
  again.textContent = words.wordRetry;
  again.addEventListener("click", flush);
  part("status").append(again);
}

async function flush() {
  while (!busy && waiting.length > 0) {
    const batch = waiting.slice(0, 16);
    const before = snapshot();
    await keep(async () => {
      const next = await send(`${words.at}/correct`, { rev: shape.rev, strokes: JSON.stringify(batch.map(({ kind, ...s }) => s)) });
      waiting.splice(0, batch.length);
      past.push(before);
      if (past.length > 40) past.shift();
      future.length = 0;
      return next;
    }, words.wordWorking);
    if (waiting[0] === batch[0]) return; // not kept: it waits for “try again”
  }
}

async function step(from, to) {
  if (busy || from.length === 0 || waiting.length > 0) return;
  const target = from.at(-1), before = snapshot();
  await keep(async () => {
    const next = await send(`${words.at}/back`, { rev: shape.rev, edge: JSON.stringify(target) });
    from.pop();
    to.push(before);
    return next;
  }, words.wordWorking);
}

// Marks: strokes on their way, the brush, the place that is chosen, the rough line.
let stroke = null; // being drawn
let chosen = null; // {x, y} on the edge, and how far it has been nudged
const rough = () => part("rough").querySelector("textarea");
const roughPlaces = () => rough().value.split("\n").map((l) => l.trim().split(/[\s,;]+/).map(Number)).filter((p) => p.length === 2 && p.every(Number.isFinite)).flat();

function drawMarks() {
  const out = [];
  for (const s of [...waiting, ...(stroke ? [stroke] : [])]) {
    if (s.do === "drag") {
      out.push(...line(path(bent(shape.polygon, at(s.path[0]), at(s.path.at(-1)), s.radius_px, true), true), "edge-pull"));
    } else {
      const p = document.createElementNS(svg, "path");
      p.setAttribute("d", path(s.path.length > 1 ? s.path.flat() : [...s.path[0], ...s.path[0]]));
      p.setAttribute("class", `edge-stroke edge-stroke-${s.do}`);
      p.setAttribute("stroke-width", 2 * s.radius_px);
      out.push(p);
    }
  }
  if (tool === "rough") out.push(...line(path(roughPlaces(), true), "edge-roughline"));
  const dots = tool === "rough" ? roughPlaces() : chosen ? [chosen.x + chosen.dx, chosen.y + chosen.dy] : [];
  for (let i = 0; i + 1 < dots.length; i += 2) {
    const c = document.createElementNS(svg, "circle");
    c.setAttribute("cx", dots[i] + 0.5);
    c.setAttribute("cy", dots[i + 1] + 0.5);
    c.setAttribute("r", easel ? easel.screen(6) : 6);
    c.setAttribute("class", "edge-place");
    c.setAttribute("vector-effect", "non-scaling-stroke");
    out.push(c);
  }
  if (chosen && (chosen.dx || chosen.dy)) out.unshift(...line(path(bent(shape.polygon, chosen, { x: chosen.x + chosen.dx, y: chosen.y + chosen.dy }, chosen.reach, true), true), "edge-pull"));
  part("marks").replaceChildren(...out);
}
const at = ([x, y]) => ({ x, y });
const pair = (p) => [Math.round(p.x * 10) / 10, Math.round(p.y * 10) / 10];

function choose(p) {
  chosen = { x: p.x, y: p.y, dx: 0, dy: 0, reach: easel.screen(3 * size) };
  part("nudges").hidden = false;
  said(words.wordChosen);
  drawMarks();
}

const hand = {
  begin(p, event) {
    if (tool === "look") return false;
    if (tool === "rough") {
      stroke = null;
      this.tap = p;
      easel.showLoupe(event, p);
      return true;
    }
    settle();
    if (tool === "drag") {
      const n = nearest(shape.polygon, p);
      if (n.i < 0 || n.d > easel.screen(30)) {
        said(words.wordBegin);
        return false;
      }
      const from = { x: shape.polygon[2 * n.i], y: shape.polygon[2 * n.i + 1] };
      stroke = { do: "drag", path: [pair(from), pair(from)], radius_px: easel.screen(4 * size) };
      this.off = { x: from.x - p.x, y: from.y - p.y };
      easel.showLoupe(event, from);
    } else {
      stroke = { do: tool, path: [pair(p)], radius_px: easel.screen(size) };
      easel.showLoupe(event, p, stroke.radius_px);
    }
    drawMarks();
    return true;
  },
  move(p, event) {
    if (tool === "rough") {
      this.tap = p;
      return easel.showLoupe(event, p);
    }
    if (!stroke) return;
    if (stroke.do === "drag") {
      const to = { x: p.x + this.off.x, y: p.y + this.off.y };
      stroke.path[1] = pair(to);
      drawMarks();
      return easel.showLoupe(event, to);
    }
    const last = at(stroke.path.at(-1));
    if (Math.hypot(p.x - last.x, p.y - last.y) >= easel.screen(2) && stroke.path.length < 3000) stroke.path.push(pair(p));
    drawMarks();
    easel.showLoupe(event, p, stroke.radius_px);
  },
  lift() {
    if (tool === "rough") {
      const text = rough().value.trim();
      rough().value = `${text ? text + "\n" : ""}${pair(this.tap).join(" ")}`;
      return drawMarks();
    }
    if (!stroke) return;
    const done = stroke;
    stroke = null;
    const [a, b] = [at(done.path[0]), at(done.path.at(-1))];
    if (done.do === "drag" && Math.hypot(a.x - b.x, a.y - b.y) < easel.screen(3)) return choose(a);
    done.radius_px = Math.round(done.radius_px * 10) / 10;
    waiting.push(done);
    drawMarks();
    flush();
  },
  drop() {
    stroke = null;
    drawMarks();
  },
};

// A nudge is kept when the fingers have been still for a moment, so that ten presses are one correction.
let still = 0;
function nudge(dx, dy) {
  if (!chosen) {
    const r = part("stage").getBoundingClientRect();
    const n = nearest(shape.polygon, easel.place({ clientX: r.left + r.width / 2, clientY: r.top + r.height / 2 }));
    if (n.i < 0) return;
    return choose({ x: shape.polygon[2 * n.i], y: shape.polygon[2 * n.i + 1] });
  }
  const unit = Math.max(1, easel.W / 2016);
  chosen.dx += dx * unit;
  chosen.dy += dy * unit;
  drawMarks();
  clearTimeout(still);
  still = setTimeout(settle, 900);
}
function settle() {
  clearTimeout(still);
  if (!chosen || !(chosen.dx || chosen.dy)) return;
  const { x, y, dx, dy, reach } = chosen;
  waiting.push({ do: "drag", path: [pair({ x, y }), pair({ x: x + dx, y: y + dy })], radius_px: reach });
  chosen = null;
  drawMarks();
  flush();
}
// Along the edge, about five px of the screen a step.
function along(way) {
  if (!chosen) return nudge(0, 0);
  settle();
  if (!chosen) return;
  const n = shape.polygon.length / 2;
  let i = nearest(shape.polygon, chosen).i;
  for (let gone = 0; gone < easel.screen(8); ) {
    const j = (i + way + n) % n;
    gone += Math.max(0.5, Math.hypot(shape.polygon[2 * j] - shape.polygon[2 * i], shape.polygon[2 * j + 1] - shape.polygon[2 * i + 1]));
    i = j;
  }
  choose({ x: shape.polygon[2 * i], y: shape.polygon[2 * i + 1] });
}

const button = (name) => root.querySelector(`[data-do="${name}"]`);
function use(name) {
  settle();
  tool = name;
  part("stage").dataset.tool = name;
  for (const b of root.querySelectorAll("button[data-tool]")) b.setAttribute("aria-pressed", String(b.dataset.tool === name));
  if (part("rough").open !== (name === "rough")) part("rough").open = name === "rough";
  drawMarks();
}
function brush(px) {
  size = px;
  for (const b of parts("size")) b.setAttribute("aria-pressed", String(Number(b.dataset.size) === size));
}
const acts = {
  undo() { settle(); step(past, future); },
  redo() { step(future, past); },
  nearer() { easel.zoom(1.5); drawMarks(); },
  farther() { easel.zoom(1 / 1.5); drawMarks(); },
  whole() { easel.whole(dogBox()); drawMarks(); },
};

function boxOf(flat, margin) {
  if (flat.length < 4) return null;
  let x0 = Infinity, y0 = Infinity, x1 = -Infinity, y1 = -Infinity;
  for (let i = 0; i + 1 < flat.length; i += 2) {
    x0 = Math.min(x0, flat[i]); x1 = Math.max(x1, flat[i]);
    y0 = Math.min(y0, flat[i + 1]); y1 = Math.max(y1, flat[i + 1]);
  }
  return { x: x0 - margin, y: y0 - margin, w: x1 - x0 + 2 * margin, h: y1 - y0 + 2 * margin };
}
const dogBox = () => boxOf(shape.polygon, 0.03 * easel.W);

function show(zone) {
  shown = zone === shown ? "" : zone;
  drawRuns();
  if (!shown) return acts.whole();
  const runs = shape.runs.filter((r) => r.zone === shown);
  const flat = runs.flatMap((r) => r.d.match(/-?\d+(\.\d+)?/g).map(Number));
  const box = boxOf(flat, 0.05 * easel.W);
  if (box) easel.whole(box);
  easel.box = dogBox();
  drawMarks();
  part("stage").scrollIntoView({ block: "nearest", behavior: "smooth" });
}

function wire() {
  const stage = part("stage");
  stage.tabIndex = 0;
  stage.setAttribute("role", "application");
  stage.setAttribute("aria-label", document.querySelector("h1").textContent);
  stage.setAttribute("aria-describedby", "edge-keys");
  easel = new Easel({ stage, sheet: part("sheet"), loupe: part("loupe"), width: Number(words.width), height: Number(words.height), view: words.view, lines: part("lines"), hand });
  part("tools").hidden = false;
  part("rough-tap").hidden = false;
  part("rough-back").hidden = false;
  for (const b of parts("tool")) if (b.tagName === "BUTTON") b.addEventListener("click", () => use(b.dataset.tool));
  for (const b of parts("size")) b.addEventListener("click", () => brush(Number(b.dataset.size)));
  control(root, stage, acts, nudge, {
    l: () => use("look"), i: () => use("in"), o: () => use("out"), d: () => use("drag"),
    ",": () => along(-1), ".": () => along(1), Enter: settle,
  });
  part("rough").addEventListener("toggle", () => {
    if (part("rough").open && tool !== "rough") use("rough");
    else if (!part("rough").open && tool === "rough") use("look");
  });
  rough().addEventListener("input", drawMarks);
  part("rough-back").addEventListener("click", () => {
    rough().value = rough().value.trim().split("\n").slice(0, -1).join("\n");
    drawMarks();
  });
  for (const b of parts("show")) {
    b.hidden = false;
    b.addEventListener("click", () => show(b.closest("[data-zone]").dataset.zone));
  }
  for (const form of root.querySelectorAll("form")) {
    form.addEventListener("submit", (event) => {
      event.preventDefault();
      const isRough = form.action.endsWith("/rough"), isFind = form.action.endsWith("/find");
      if (isRough && roughPlaces().length < 6) return said(words.wordFew);
      settle();
      if (busy || waiting.length > 0) return;
      const fields = new FormData(form, event.submitter);
      const before = shape.rev && (isRough || isFind) ? snapshot() : null;
      keep(async () => {
        const next = await send(form.action, fields);
        if (before) { past.push(before); future.length = 0; }
        return next;
      }, isRough || isFind ? words.wordFinding : words.wordWorking).then(() => {
        if (isRough && shape.rev && tool === "rough") { rough().value = ""; use("look"); acts.whole(); }
        if (isFind) found();
      });
    });
  }
}

function found() {
  if (!shape.rev) return use("rough"); // no dog was found: she is tapped round
  const b = part("find").querySelector("button");
  b.classList.remove("button-big");
  b.classList.add("button-plain");
  b.lastChild.textContent = words.wordAgain;
  acts.whole();
}

if (root) {
  wire();
  if (shape.rev) {
    send(`${words.at}/shape`).then((s) => { take(s); acts.whole(); }).catch(() => said(words.wordLost));
  } else if (!document.querySelector("[data-focus]")) {
    part("find").requestSubmit(); // first opening: it is found without being asked for
  }
}
