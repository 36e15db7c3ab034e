// The coat through time: the row of photos is stepped, scrubbed and run through. It runs only when it is asked to, and fetches only
// a few photos ahead. Without this script each photo is a page, with links to the one before and the one after.

import { fullScreen, keyed, keysOf } from "./glass.js";

const root = document.querySelector("[data-time]");
if (root) begin();

function begin() {
  const find = (name) => root.querySelector(`[data-time-${name}]`);
  const frames = [...root.querySelectorAll("[data-frame]")].map((a) => ({ link: a, url: a.dataset.frame, on: a.dataset.on, show: a.dataset.show, id: a.dataset.id, day: Number(a.dataset.day) }));
  const picture = find("picture"), range = find("range"), play = find("play"), says = find("says");
  const words = root.dataset;
  const ahead = 3;
  const speeds = [2000, 1000, 500, 250]; // ms a photo
  let at = Number(root.dataset.at), speed = 1, clock = 0, asked = 0;
  for (const hidden of root.querySelectorAll("[data-time-script]")) hidden.hidden = false;
  root.classList.add("time-live");

  // Photos that were fetched and can be shown at once.
  const ready = new Map();
  const fetched = (i) => {
    if (!frames[i]) return Promise.resolve();
    let wait = ready.get(i);
    if (!wait) {
      const img = new Image();
      img.src = frames[i].url;
      wait = img.decode().then(() => img, () => { ready.delete(i); });
      ready.set(i, wait);
      // Those far behind may go: the browser keeps what it likes of them.
      for (const k of ready.keys()) if (Math.abs(k - i) > 12) ready.delete(k);
    }
    return wait;
  };

  async function go(i) {
    i = Math.min(frames.length - 1, Math.max(0, i));
    const mine = ++asked;
    at = i;
    const f = frames[i];
    range.value = String(f.day);
    range.setAttribute("aria-valuetext", [f.on, f.show].filter(Boolean).join(", "));
    const img = await fetched(i);
    if (mine !== asked) return;
    if (img) picture.src = img.src;
    picture.alt = words.wordAlt.replace("{on}", f.on);
    find("on").textContent = f.on;
    find("show").textContent = f.show;
    find("nth").textContent = `${i + 1} / ${frames.length}`;
    if (!clock) says.textContent = [f.on, f.show].filter(Boolean).join(", ");
    const pair = find("pair");
    const other = frames[i === 0 ? frames.length - 1 : 0];
    pair.href = i === 0 ? `/compare?a=${f.id}&b=${other.id}` : `/compare?a=${other.id}&b=${f.id}`;
    for (const one of frames) one.link.toggleAttribute("aria-current", one === f);
    f.link.setAttribute("aria-current", "true");
    const q = new URLSearchParams(location.search);
    q.set("at", f.id);
    history.replaceState(null, "", `${location.pathname}?${q}`);
    for (let k = 1; k <= ahead; k++) fetched(i + k);
  }

  const stop = () => {
    clearTimeout(clock);
    clock = 0;
    play.setAttribute("aria-pressed", "false");
    find("play-word").textContent = words.wordPlay;
  };
  async function next() {
    if (!clock) return;
    const began = performance.now();
    if (at >= frames.length - 1) return stop();
    await go(at + 1);
    if (clock) clock = setTimeout(next, Math.max(60, speeds[speed] - (performance.now() - began)));
  }
  function run() {
    if (clock) return stop();
    if (at >= frames.length - 1) go(0);
    clock = setTimeout(next, speeds[speed]);
    play.setAttribute("aria-pressed", "true");
    find("play-word").textContent = words.wordStop;
  }
  const pace = (by) => {
    speed = Math.min(speeds.length - 1, Math.max(0, speed + by));
    find("speed").textContent = words.wordSpeed.replace("{n}", String(1000 / speeds[speed]));
  };
  let full = false;
  const fill = (on) => {
    full = on;
    fullScreen(root, on);
    find("full").setAttribute("aria-pressed", String(on));
  };
  document.addEventListener("fullscreenchange", () => { if (!document.fullscreenElement && full) fill(false); });
  document.addEventListener("visibilitychange", () => { if (document.hidden) stop(); });

  const step = (by) => { stop(); go(at + by); };
  play.addEventListener("click", run);
  // The scrubber goes by days: it comes to rest on the photo nearest to where it is let go. A push too short to reach another
  // (a key, or a swipe with a screen reader) goes one photo on.
  let held = false;
  range.addEventListener("pointerdown", () => { held = true; });
  for (const end of ["pointerup", "pointercancel"]) range.addEventListener(end, () => { held = false; range.value = String(frames[at].day); });
  range.addEventListener("input", () => {
    const day = Number(range.value), far = (i) => Math.abs(frames[i].day - day);
    let near = frames.reduce((best, _, i) => (far(i) < far(best) ? i : best), 0);
    if (frames[near].day === frames[at].day) near = held ? at : at + Math.sign(day - frames[at].day);
    stop();
    go(near);
    if (held) range.value = String(day);
  });
  for (const b of root.querySelectorAll("[data-time-step]")) b.addEventListener("click", (event) => { event.preventDefault(); step(Number(b.dataset.timeStep)); });
  for (const b of root.querySelectorAll("[data-time-pace]")) b.addEventListener("click", () => pace(Number(b.dataset.timePace)));
  find("full").addEventListener("click", () => fill(!full));
  for (const [i, f] of frames.entries()) f.link.addEventListener("click", (event) => { event.preventDefault(); stop(); go(i); });

  const keys = {
    " ": run, ArrowLeft: () => step(-1), ArrowRight: () => step(1), Home: () => step(-frames.length), End: () => step(frames.length),
    "+": () => pace(1), "=": () => pace(1), "-": () => pace(-1), f: () => fill(!full),
  };
  document.addEventListener("keydown", (event) => {
    if (!keyed(event)) return;
    const key = event.key.length === 1 ? event.key.toLowerCase() : event.key;
    if (key === "Escape" && full) fill(false);
    else if (Object.hasOwn(keys, key)) keys[key]();
    else return;
    event.preventDefault();
  });
  keysOf(root);
  pace(0);
  for (let k = 1; k <= ahead; k++) fetched(at + k);
}
