// Two photos compared: slider, side by side, in turn, or one as a ghost over the other; zoomed and moved together. The address
// keeps what is shown, so that it can be sent to somebody of the salon. Whatever can be dragged has a button and a key.
// Without this script the page shows both photos side by side, with the figures.

import { Glass, fullScreen, keyed, keysOf } from "./glass.js";

const root = document.querySelector("[data-compare]");
if (root) begin();

function begin() {
  const find = (name) => root.querySelector(`[data-cmp-${name}]`);
  const all = (name) => [...root.querySelectorAll(`[data-cmp-${name}]`)];
  const words = root.dataset;
  const still = matchMedia("(prefers-reduced-motion: reduce)");
  const begun = new URLSearchParams(location.search);
  const hows = ["slider", "side", "blink", "ghost"];
  const first = root.dataset.aligned === "yes" ? "slider" : "side";
  const state = { how: hows.includes(begun.get("how")) ? begun.get("how") : first, at: 50, strength: 50, after: true };
  for (const k of ["at", "strength"]) if (begun.has(k)) state[k] = Math.min(100, Math.max(0, Number(begun.get(k)) || 0));

  root.classList.add("cmp-live");
  const shape = find("picture");
  root.style.setProperty("--wide", shape.width && shape.height ? shape.getAttribute("width") / shape.getAttribute("height") : 4 / 3);
  for (const hidden of all("script")) hidden.hidden = false;
  const says = find("says");
  const ranges = { at: find("at"), strength: find("strength") };

  const glass = new Glass(root, all("window"), () => { sharpen(); keep(); });
  glass.drag = (share, event) => {
    if (state.how !== "slider") return false;
    // A finger on a zoomed photo moves it, unless it takes the line itself.
    if (event.type === "pointerdown" && glass.scale > 1 && Math.abs(share.x * 100 - state.at) > 6) return false;
    put("at", share.x * 100);
    return true;
  };
  glass.tapped = () => { if (state.how === "blink") swap(); };

  // The small pictures come first; those that a zoom or a large screen shows are fetched when they are wanted.
  function sharpen() {
    for (const img of all("picture")) {
      const wanted = img.clientWidth * glass.scale * Math.min(2, devicePixelRatio);
      if (!img.dataset.full || !img.complete || wanted < 1.15 * img.naturalWidth) continue;
      img.src = img.dataset.full;
      delete img.dataset.full;
    }
  }

  for (const img of all("picture")) img.addEventListener("load", sharpen);

  let writing = 0;
  function keep() {
    clearTimeout(writing);
    writing = setTimeout(() => {
      const q = new URLSearchParams(location.search);
      q.set("a", words.a);
      q.set("b", words.b);
      q.delete("dog");
      const write = (name, value, usual) => (String(value) === String(usual) ? q.delete(name) : q.set(name, value));
      write("how", state.how, first);
      write("at", state.at, 50);
      write("strength", state.strength, 50);
      write("lines", lines().join("."), usualLines);
      write("zoom", glass.scale === 1 ? "" : [glass.scale, glass.x, glass.y].map((v) => v.toFixed(3)).join("_"), "");
      history.replaceState(null, "", `${location.pathname}?${q}${location.hash}`);
    }, 150);
  }
  // Another pair is looked at as this one is.
  document.addEventListener("click", (event) => {
    const link = event.target.closest("a[data-cmp-pair]");
    if (!link) return;
    const to = new URL(link.href), here = new URLSearchParams(location.search);
    for (const name of ["how", "at", "strength", "lines"]) if (here.has(name)) to.searchParams.set(name, here.get(name));
    link.href = to;
  });

  function put(name, value) {
    state[name] = Math.min(100, Math.max(0, Math.round(value)));
    ranges[name].value = String(state[name]);
    ranges[name].setAttribute("aria-valuetext", `${state[name]} %`);
    root.style.setProperty(`--${name}`, `${state[name]}%`);
    keep();
  }
  for (const [name, range] of Object.entries(ranges)) {
    range.addEventListener("input", () => put(name, Number(range.value)));
    put(name, state[name]);
  }
  for (const b of all("to")) b.addEventListener("click", () => put("at", Number(b.dataset.cmpTo)));
  for (const b of all("step")) {
    const [name, by] = b.dataset.cmpStep.split(" ");
    b.addEventListener("click", () => put(name, state[name] + Number(by)));
  }

  // In turn.
  let clock = 0;
  const auto = find("auto");
  function swap(to = !state.after) {
    state.after = to;
    root.classList.toggle("cmp-before", !to);
    const name = to ? words.wordAfter : words.wordBefore;
    find("turn-word").textContent = name;
    if (!clock) says.textContent = name;
  }
  function run(on) {
    clearInterval(clock);
    clock = on ? setInterval(swap, still.matches ? 2500 : 900) : 0;
    auto.setAttribute("aria-pressed", String(on));
  }
  find("turn").addEventListener("click", () => { run(false); swap(); });
  auto.addEventListener("click", () => run(!clock));
  document.addEventListener("visibilitychange", () => { if (document.hidden) run(false); });

  function show(how) {
    state.how = how;
    root.dataset.how = how;
    for (const box of all("how")) box.checked = box.value === how;
    for (const tools of all("for")) tools.hidden = tools.dataset.cmpFor !== how;
    run(false);
    swap(true);
    says.textContent = root.querySelector(`[data-cmp-how][value="${how}"]`)?.closest("label").innerText ?? "";
    sharpen();
    keep();
  }
  for (const box of all("how")) box.addEventListener("change", () => show(box.value));

  // Lines.
  const boxes = all("line");
  const lines = () => boxes.filter((b) => b.checked).map((b) => b.dataset.cmpLine);
  const usualLines = lines().join(".");
  function draw() {
    for (const box of boxes) for (const line of root.querySelectorAll(`[data-of="${box.dataset.cmpLine}"]`)) line.classList.toggle("line-off", !box.checked);
    keep();
  }
  if (begun.has("lines")) {
    const on = begun.get("lines").split(".");
    for (const box of boxes) box.checked = on.includes(box.dataset.cmpLine);
  }
  for (const box of boxes) box.addEventListener("change", draw);

  // Size.
  let full = false;
  const screen = find("full");
  const fill = (on) => {
    full = on;
    fullScreen(root, on);
    screen.setAttribute("aria-pressed", String(on));
    requestAnimationFrame(sharpen);
  };
  document.addEventListener("fullscreenchange", () => { if (!document.fullscreenElement && full) fill(false); });
  const step = 0.12;
  const acts = {
    nearer: () => glass.zoom(1.5), farther: () => glass.zoom(1 / 1.5), whole: () => glass.whole(),
    left: () => glass.move(step, 0), right: () => glass.move(-step, 0), up: () => glass.move(0, step), down: () => glass.move(0, -step),
    full: () => fill(!full),
  };
  for (const b of all("do")) b.addEventListener("click", () => acts[b.dataset.cmpDo]());
  if (begun.has("zoom")) glass.set(...begun.get("zoom").split("_"));

  const along = (by) => {
    if (state.how === "slider") put("at", state.at + by);
    else if (state.how === "ghost") put("strength", state.strength + by);
    else if (state.how === "blink") swap();
    else glass.move(-Math.sign(by) * step, 0);
  };
  const arrows = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
  document.addEventListener("keydown", (event) => {
    if (!keyed(event)) return;
    const key = event.key.length === 1 ? event.key.toLowerCase() : event.key;
    const arrow = arrows[key];
    if (arrow) {
      // Up and down belong to the page where there is nothing to move.
      if (event.shiftKey || (arrow[1] && glass.scale > 1)) glass.move(-arrow[0] * step, -arrow[1] * step);
      else if (arrow[0]) along(arrow[0] * 2);
      else return;
    } else if ({ s: "slider", d: "side", b: "blink", g: "ghost" }[key]) show({ s: "slider", d: "side", b: "blink", g: "ghost" }[key]);
    else if (key === " " && state.how === "blink") { run(false); swap(); }
    else if (key === "a" && state.how === "blink") run(!clock);
    else if (key === "+" || key === "=") acts.nearer();
    else if (key === "-") acts.farther();
    else if (key === "0") acts.whole();
    else if (key === "f") acts.full();
    else if (key === "Escape" && full) fill(false);
    else if (key === "l" && boxes.length) {
      const any = boxes.some((b) => b.checked);
      for (const b of boxes) b.checked = !any;
      draw();
    } else if (/^[1-9]$/.test(key) && boxes[Number(key) - 1]) {
      boxes[Number(key) - 1].click();
    } else if (key === "x") document.querySelector("[data-cmp-swap]").click();
    else return;
    event.preventDefault();
  });
  keysOf(root);

  show(state.how);
  draw();
  addEventListener("resize", sharpen);
}
