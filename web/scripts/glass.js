// A glass over one or more pictures of one frame: what is zoomed and moved in one is in all. The state is a scale and where the
// frame's top left corner lies, in shares of a window, so that windows of any size show the same part.

export const most = 8; // times the whole

export class Glass {
  // root carries --zoom, --left and --top for the style sheet; windows show the frame. changed is called after every move.
  constructor(root, windows, changed) {
    Object.assign(this, { root, windows, scale: 1, x: 0, y: 0 });
    this.fingers = new Map();
    for (const w of windows) {
      w.addEventListener("pointerdown", (e) => this.down(e, w));
      w.addEventListener("pointermove", (e) => this.moved(e, w));
      for (const end of ["pointerup", "pointercancel"]) w.addEventListener(end, (e) => this.up(e));
      w.addEventListener("wheel", (e) => {
        if (!e.ctrlKey && !e.metaKey && !root.classList.contains("glass-full")) return;
        e.preventDefault();
        this.zoom(Math.exp(-e.deltaY / 250), this.share(e, w));
      }, { passive: false });
      w.addEventListener("dblclick", (e) => this.scale > 1.05 ? this.whole() : this.zoom(2.5, this.share(e, w)));
    }
    this.lay();
    this.changed = changed;
  }

  // drag(share, event) may take a finger that would otherwise move the picture: it answers whether it does.
  drag = () => false;

  share(event, w) {
    const box = w.getBoundingClientRect();
    return { x: (event.clientX - box.left) / box.width, y: (event.clientY - box.top) / box.height };
  }

  zoom(factor, at = { x: 0.5, y: 0.5 }) {
    const next = Math.min(most, Math.max(1, this.scale * factor));
    this.x = at.x - ((at.x - this.x) * next) / this.scale;
    this.y = at.y - ((at.y - this.y) * next) / this.scale;
    this.scale = next;
    this.lay();
  }

  move(dx, dy) {
    this.x += dx;
    this.y += dy;
    this.lay();
  }

  whole() { this.set(1, 0, 0); }

  set(scale, x, y) {
    this.scale = Math.min(most, Math.max(1, Number(scale) || 1));
    this.x = Number(x) || 0;
    this.y = Number(y) || 0;
    this.lay();
  }

  lay() {
    const edge = 1 - this.scale; // never lost out of sight
    this.x = Math.min(0, Math.max(edge, this.x));
    this.y = Math.min(0, Math.max(edge, this.y));
    const s = this.root.style;
    s.setProperty("--zoom", this.scale);
    s.setProperty("--left", `${this.x * 100}%`);
    s.setProperty("--top", `${this.y * 100}%`);
    this.root.classList.toggle("glass-near", this.scale > 1.001);
    this.changed?.();
  }

  down(event, w) {
    if (event.pointerType === "mouse" && event.button !== 0) return;
    w.setPointerCapture(event.pointerId);
    this.fingers.set(event.pointerId, { x: event.clientX, y: event.clientY });
    this.tap = this.fingers.size === 1;
    this.taken = this.tap && this.drag(this.share(event, w), event);
  }

  moved(event, w) {
    const was = this.fingers.get(event.pointerId);
    if (!was) return;
    const now = { x: event.clientX, y: event.clientY };
    const box = w.getBoundingClientRect();
    if (Math.hypot(now.x - was.x, now.y - was.y) > 4) this.tap = false;
    if (this.fingers.size === 1) {
      if (this.taken) this.drag(this.share(event, w), event);
      else if (this.scale > 1) this.move((now.x - was.x) / box.width, (now.y - was.y) / box.height);
    } else if (this.fingers.size === 2) {
      const other = [...this.fingers].find(([id]) => id !== event.pointerId)[1];
      const d0 = Math.hypot(was.x - other.x, was.y - other.y), d1 = Math.hypot(now.x - other.x, now.y - other.y);
      this.x += (now.x - was.x) / 2 / box.width;
      this.y += (now.y - was.y) / 2 / box.height;
      if (d0 > 8 && d1 > 8) this.zoom(d1 / d0, { x: ((now.x + other.x) / 2 - box.left) / box.width, y: ((now.y + other.y) / 2 - box.top) / box.height });
      else this.lay();
    }
    this.fingers.set(event.pointerId, now);
  }

  up(event) {
    this.fingers.delete(event.pointerId);
    if (this.fingers.size === 0) {
      if (this.tap && !this.taken && event.type === "pointerup") this.tapped?.(event);
      this.taken = false;
    }
  }
}

// fullScreen makes an element fill the screen; where the browser has no such thing (some phones), the window.
export function fullScreen(root, on) {
  root.classList.toggle("glass-full", on);
  document.documentElement.classList.toggle("glass-behind", on);
  // What lies behind it is not walked through by keys either.
  for (let at = root; at !== document.body; at = at.parentElement) {
    for (const other of at.parentElement.children) if (other !== at) other.inert = on;
  }
  if (on) root.requestFullscreen?.().catch(() => {});
  else if (document.fullscreenElement) document.exitFullscreen().catch(() => {});
}

// keyed tells whether a key is meant for the page: not for a field, not with a modifier of the browser's.
export function keyed(event) {
  if (event.defaultPrevented || event.ctrlKey || event.metaKey || event.altKey) return false;
  const at = event.target;
  if (at.closest?.("dialog[open]")) return false;
  if (at.matches?.('textarea, select, input:not([type="checkbox"]):not([type="radio"]):not([type="range"])')) return false;
  const arrows = event.key.startsWith("Arrow") || event.key === "Home" || event.key === "End" || event.key.startsWith("Page");
  if (arrows && at.matches?.('input[type="range"], input[type="radio"], [tabindex="0"][role="group"]:not([data-stage])')) return false;
  if ((event.key === " " || event.key === "Enter") && at.closest?.("a, button, summary, label, input")) return false;
  return true;
}

// keysOf wires the list of keys: a button opens it, "?" too.
export function keysOf(root) {
  const list = root.querySelector("[data-keys]");
  root.querySelector("[data-keys-open]")?.addEventListener("click", () => list.showModal());
  document.addEventListener("keydown", (event) => {
    if (event.key !== "?" || !keyed(event)) return;
    event.preventDefault();
    list.showModal();
  });
}
