// A photo that is zoomed and moved with two fingers while one finger works on it. A pixel is a pixel of the upright original;
// the centre of the top left one is (0, 0). Drawings on the photo are in an SVG whose viewBox is the photo: there that centre
// is (0.5, 0.5).

const most = 8; // times the size at which the whole photo is seen

export class Easel {
  // hand: begin(place, event) answers whether it takes the finger; move(place, event), lift(event), drop() while it has it.
  constructor({ stage, sheet, loupe, width, height, view, lines, hand }) {
    Object.assign(this, { stage, sheet, glass: loupe, W: width, H: height, hand });
    this.fingers = new Map();
    this.box = null; // what is shown whole
    stage.classList.add("edge-live");
    // The loupe shows the photo and what is drawn on it.
    loupe.innerHTML = `<svg aria-hidden="true" focusable="false"><image width="${width}" height="${height}" preserveAspectRatio="none"/><g data-copy></g></svg>`;
    loupe.querySelector("image").setAttribute("href", view);
    this.copy = loupe.querySelector("[data-copy]");
    this.lines = lines;
    stage.addEventListener("pointerdown", (e) => this.down(e));
    stage.addEventListener("pointermove", (e) => this.moved(e));
    stage.addEventListener("pointerup", (e) => this.up(e));
    stage.addEventListener("pointercancel", (e) => this.up(e, true));
    stage.addEventListener("wheel", (e) => {
      if (!e.ctrlKey && !e.metaKey) return;
      e.preventDefault();
      this.zoom(Math.exp(-e.deltaY / 250), e.clientX, e.clientY);
    }, { passive: false });
    new ResizeObserver(() => this.whole()).observe(stage);
    this.whole();
  }

  // whole shows a box of the photo as large as it fits; without one, the photo.
  whole(box = this.box) {
    this.box = box;
    const b = box ?? { x: 0, y: 0, w: this.W, h: this.H };
    const w = this.stage.clientWidth, h = this.stage.clientHeight;
    this.least = Math.min(w / this.W, h / this.H);
    this.scale = Math.min(w / b.w, h / b.h, this.least * most);
    this.tx = w / 2 - (b.x + b.w / 2) * this.scale;
    this.ty = h / 2 - (b.y + b.h / 2) * this.scale;
    this.lay();
  }

  zoom(factor, clientX, clientY) {
    const r = this.stage.getBoundingClientRect();
    const x = (clientX ?? r.left + r.width / 2) - r.left, y = (clientY ?? r.top + r.height / 2) - r.top;
    const next = Math.min(Math.max(this.scale * factor, this.least), this.least * most);
    this.tx = x - ((x - this.tx) * next) / this.scale;
    this.ty = y - ((y - this.ty) * next) / this.scale;
    this.scale = next;
    this.lay();
  }

  lay() {
    const w = this.stage.clientWidth, h = this.stage.clientHeight;
    const sw = this.W * this.scale, sh = this.H * this.scale;
    // Never lost out of sight; centred where there is room.
    this.tx = sw <= w ? (w - sw) / 2 : Math.min(w * 0.3, Math.max(w * 0.7 - sw, this.tx));
    this.ty = sh <= h ? (h - sh) / 2 : Math.min(h * 0.3, Math.max(h * 0.7 - sh, this.ty));
    const s = this.sheet.style;
    s.width = `${sw}px`;
    s.height = `${sh}px`;
    s.transform = `translate(${this.tx}px, ${this.ty}px)`;
  }

  // place is where an event points, px of the photo.
  place(event) {
    const r = this.stage.getBoundingClientRect();
    return { x: (event.clientX - r.left - this.tx) / this.scale - 0.5, y: (event.clientY - r.top - this.ty) / this.scale - 0.5 };
  }

  // screen is how many px of the photo so many px of the screen are.
  screen(px) { return px / this.scale; }

  down(event) {
    if (event.pointerType === "mouse" && event.button !== 0) return;
    event.preventDefault();
    this.stage.focus({ preventScroll: true });
    this.stage.setPointerCapture(event.pointerId);
    this.fingers.set(event.pointerId, { x: event.clientX, y: event.clientY });
    if (this.fingers.size === 1) {
      this.took = this.hand.begin(this.place(event), event);
    } else {
      if (this.took) this.hand.drop();
      this.took = false;
      this.hideLoupe();
    }
  }

  moved(event) {
    const was = this.fingers.get(event.pointerId);
    if (!was) return;
    const now = { x: event.clientX, y: event.clientY };
    if (this.fingers.size === 1) {
      if (this.took) this.hand.move(this.place(event), event);
      else this.shift(now.x - was.x, now.y - was.y);
    } else if (this.fingers.size === 2) {
      const other = [...this.fingers].find(([id]) => id !== event.pointerId)[1];
      const d0 = Math.hypot(was.x - other.x, was.y - other.y), d1 = Math.hypot(now.x - other.x, now.y - other.y);
      this.shift((now.x - was.x) / 2, (now.y - was.y) / 2);
      if (d0 > 8 && d1 > 8) this.zoom(d1 / d0, (now.x + other.x) / 2, (now.y + other.y) / 2);
    }
    this.fingers.set(event.pointerId, now);
  }

  shift(dx, dy) {
    this.tx += dx;
    this.ty += dy;
    this.lay();
  }

  up(event, lost) {
    if (!this.fingers.delete(event.pointerId)) return;
    if (this.took && this.fingers.size === 0) {
      if (lost) this.hand.drop();
      else this.hand.lift(event);
    }
    if (this.fingers.size === 0) this.took = false;
    this.hideLoupe();
  }

  // showLoupe magnifies a place beside the finger, on the side where there is room; ring: radius of a brush, px of the photo.
  showLoupe(event, at, ring) {
    const r = this.stage.getBoundingClientRect();
    const d = 132, gap = 42;
    const px = event.clientX - r.left, py = event.clientY - r.top;
    const left = px > r.width / 2 ? px - gap - d : px + gap;
    const s = this.glass.style;
    s.left = `${Math.min(Math.max(left, 0), r.width - d)}px`;
    s.top = `${Math.min(Math.max(py - d / 2, 0), Math.max(0, r.height - d))}px`;
    const half = this.screen(d / 2) / 2.5;
    this.glass.firstChild.setAttribute("viewBox", `${at.x + 0.5 - half} ${at.y + 0.5 - half} ${2 * half} ${2 * half}`);
    this.copy.innerHTML = this.lines.innerHTML + (ring ? `<circle class="edge-ring" cx="${at.x + 0.5}" cy="${at.y + 0.5}" r="${ring}" vector-effect="non-scaling-stroke"/>` : "");
    this.glass.hidden = false;
  }

  hideLoupe() { this.glass.hidden = true; }
}

// path is SVG path data of flat places x, y, …
export function path(flat, shut) {
  let d = "";
  for (let i = 0; i + 1 < flat.length; i += 2) d += `${i ? "L" : "M"}${(flat[i] + 0.5).toFixed(1)} ${(flat[i + 1] + 0.5).toFixed(1)}`;
  return shut && d ? d + "Z" : d;
}

// nearest vertex of flat places: its index (of the pair) and distance.
export function nearest(flat, p) {
  let best = -1, d = Infinity;
  for (let i = 0; i + 1 < flat.length; i += 2) {
    const q = Math.hypot(flat[i] - p.x, flat[i + 1] - p.y);
    if (q < d) [best, d] = [i / 2, q];
  }
  return { i: best, d };
}

// bent is a line of which the place from was pulled to to: what lies beside it along the line goes with it, less and less as
// far as reach. shut: the line is a ring.
export function bent(flat, from, to, reach, shut) {
  const out = flat.slice(), n = flat.length / 2, at = nearest(flat, from).i;
  if (at < 0) return out;
  const pull = (i) => {
    const d = Math.hypot(flat[2 * i] - from.x, flat[2 * i + 1] - from.y) / reach;
    if (d >= 1) return false;
    const k = (1 - d * d) ** 2;
    out[2 * i] = flat[2 * i] + k * (to.x - from.x);
    out[2 * i + 1] = flat[2 * i + 1] + k * (to.y - from.y);
    return true;
  };
  for (const way of [1, -1]) {
    for (let k = 0; k < (shut ? n / 3 : n); k++) {
      const i = at + way * k;
      if (!shut && (i < 0 || i >= n)) break;
      if (!pull((i + n) % n)) break;
    }
  }
  return out;
}

// control gives an easel's page its keys and buttons, of root: acts by the names in data-do, nudge(dx, dy) by data-nudge and the
// arrows, with Shift by five. more: a page's own keys, the lower-case letter or the key's name; they come before the common ones.
export function control(root, stage, acts, nudge, more = {}) {
  for (const b of root.querySelectorAll("[data-do]")) b.addEventListener("click", () => acts[b.dataset.do]());
  for (const b of root.querySelectorAll("[data-nudge]")) {
    const [dx, dy] = b.dataset.nudge.split(" ").map(Number);
    b.addEventListener("click", () => nudge(dx, dy));
  }
  const common = {
    ArrowLeft: (n) => nudge(-n, 0), ArrowRight: (n) => nudge(n, 0), ArrowUp: (n) => nudge(0, -n), ArrowDown: (n) => nudge(0, n),
    "+": () => acts.nearer(), "=": () => acts.nearer(), "-": () => acts.farther(), 0: () => acts.whole(),
  };
  const keys = { ...common, ...more };
  stage.addEventListener("keydown", (event) => {
    const key = event.key.length === 1 ? event.key.toLowerCase() : event.key;
    if (event.ctrlKey || event.metaKey) {
      if (key === "z") acts[event.shiftKey ? "redo" : "undo"]();
      else if (key === "y") acts.redo();
      else return;
    } else {
      if (event.altKey || !Object.hasOwn(keys, key)) return;
      keys[key](event.shiftKey ? 5 : 1);
    }
    event.preventDefault();
  });
}
