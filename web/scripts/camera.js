// A photo taken in the page, after the dog's last one: that lies as a ghost over the camera's picture. Light and rest are told here;
// marker, stand and side by the server, which is sent a small picture now and then and keeps none. A shot is shown before it is
// kept, and is called stored only after the server has said so. Without this script, or without a camera that the page may use,
// the phone's own camera and files take its place.

import { dated, stamp } from "./exifdate.js";
import { Watch, blurred, held, sharpness } from "./watch.js";

const root = document.querySelector("[data-camera]");
if (root) begin();

function begin() {
  const find = (name) => root.querySelector(`[data-cam-${name}]`);
  const words = root.dataset;
  const stage = find("stage"), video = find("video"), ghost = find("ghost"), start = find("start");
  const box = find("box"), hint = find("hint"), says = find("says"), shutter = find("shutter");
  const watch = new Watch();
  let stream = null, track = null, wanted = false, opening = false, busy = false;
  let shots = []; // taken and not kept yet
  let queue = []; // kept and not stored yet

  if (!window.isSecureContext || !navigator.mediaDevices?.getUserMedia) {
    find(window.isSecureContext ? "none" : "insecure").hidden = false;
    // Where the salon has a certificate of its own making, its page says how this phone comes to trust it.
    if (!window.isSecureContext) fetch("/trust").then((answer) => {
      if (!answer.ok) return;
      const trust = find("trust"), link = document.createElement("a");
      link.href = "/trust";
      link.textContent = trust.textContent;
      trust.replaceChildren(link);
      trust.hidden = false;
    }, () => {});
    return;
  }
  find("live").hidden = false;

  // ——— the camera ———

  async function open() {
    wanted = true;
    if (stream || opening) return;
    opening = true;
    try {
      const got = await navigator.mediaDevices.getUserMedia({
        audio: false,
        video: { facingMode: { ideal: "environment" }, width: { ideal: 2560 }, height: { ideal: 1920 }, aspectRatio: { ideal: 4 / 3 } },
      });
      if (!wanted || document.hidden) return got.getTracks().forEach((t) => t.stop());
      stream = got;
    } catch (error) {
      const denied = error.name === "NotAllowedError" || error.name === "SecurityError";
      find("refused").textContent = denied ? words.wordDenied : words.wordNone;
      find("refused").hidden = false;
      start.hidden = false;
      return;
    } finally {
      opening = false;
    }
    find("refused").hidden = true;
    start.hidden = true;
    track = stream.getVideoTracks()[0];
    track.addEventListener("ended", close);
    video.srcObject = stream;
    await video.play().catch(() => {});
    stage.hidden = false;
    find("tools").hidden = false;
    shape();
    root.classList.add("cam-on");
    stage.scrollIntoView({ block: "start", behavior: "instant" });
  }

  function close() {
    stream?.getTracks().forEach((t) => t.stop());
    stream = track = null;
    video.srcObject = null;
    root.classList.remove("cam-on");
    light([]);
  }

  // Nobody is filmed by a page that is not looked at.
  document.addEventListener("visibilitychange", () => {
    if (document.hidden) close();
    else if (wanted) open();
  });
  addEventListener("pagehide", close);
  addEventListener("pageshow", (event) => { if (event.persisted && wanted) open(); });

  start.addEventListener("click", () => { level.ask(); open(); });
  // Whoever has let the page have the camera before need not tap again.
  navigator.permissions?.query({ name: "camera" }).then((p) => { if (p.state === "granted") { level.ask(); open(); } }, () => {});

  function shape() {
    if (!video.videoWidth) return;
    stage.style.setProperty("--wide", video.videoWidth / video.videoHeight);
    find("sideways").hidden = !(ghost && video.videoHeight > video.videoWidth && ghost.naturalWidth > ghost.naturalHeight);
  }
  video.addEventListener("resize", shape);
  video.addEventListener("loadedmetadata", shape);

  // ——— the ghost ———

  let strength = 40, flipped = root.dataset.mirrored === "yes", said = false;
  const shade = (by) => {
    strength = Math.min(100, Math.max(0, strength + by));
    stage.style.setProperty("--ghost", strength / 100);
    find("strength").textContent = `${strength} %`;
  };
  const flip = (to) => {
    flipped = to;
    stage.classList.toggle("cam-flipped", flipped);
    find("flip")?.setAttribute("aria-pressed", String(flipped));
  };
  for (const b of root.querySelectorAll("[data-cam-shade]")) b.addEventListener("click", () => shade(Number(b.dataset.camShade)));
  find("flip")?.addEventListener("click", () => { said = true; flip(!flipped); });
  if (ghost) {
    shade(0);
    flip(flipped);
  }
  // She faces the other way than in the ghost: it is mirrored, unless somebody has said how it shall be.
  function faces(way) {
    if (!ghost || said || !way || !words.facing) return;
    flip((root.dataset.mirrored === "yes") !== (way !== words.facing));
  }

  // ——— the level ———

  const level = {
    el: find("level"), none: find("nolevel"), seen: false, down: null,
    async ask() {
      if (this.asked) return;
      this.asked = true;
      try {
        if (typeof DeviceOrientationEvent?.requestPermission === "function" && (await DeviceOrientationEvent.requestPermission()) !== "granted") throw new Error("denied");
        addEventListener("deviceorientation", (event) => this.told(event));
        setTimeout(() => { this.none.hidden = this.seen; }, 1500);
      } catch {
        this.none.hidden = false;
      }
    },
    told(event) {
      if (event.beta === null || event.gamma === null) return;
      this.seen = true;
      this.el.hidden = false;
      this.none.hidden = true;
      const how = held(event.beta, event.gamma, screen.orientation?.angle ?? 0);
      const fine = Math.abs(how.lean) < 1.5;
      this.down = how.down;
      this.el.style.setProperty("--lean", `${Math.max(-30, Math.min(30, how.lean)).toFixed(1)}deg`);
      this.el.classList.toggle("cam-plumb", fine);
      find("lean").textContent = fine ? words.wordPlumb : `${how.lean > 0 ? "↻" : "↺"} ${Math.abs(how.lean).toFixed(0)}°`;
    },
  };

  // ——— hints ———

  let told = { here: "", there: [] };
  const tell = () => {
    const list = [];
    if (told.here) list.push(words[`word${told.here[0].toUpperCase()}${told.here.slice(1)}`]);
    list.push(...told.there);
    if (!told.there.length && level.down !== null) {
      if (level.down > 9) list.push(words.wordDown);
      else if (level.down < -9) list.push(words.wordUp);
    }
    const text = list[0] ?? "";
    if (hint.textContent !== text) hint.textContent = text; // a live region: said once
    hint.hidden = !text;
  };
  let looks = "", since = 0;
  setInterval(() => {
    if (!stream || !video.videoWidth || shots.length) return;
    const now = watch.look(video);
    // A hint that comes and goes is none: it must hold for a second.
    if (now !== looks) { looks = now; since = performance.now(); }
    else if (performance.now() - since > 900) told.here = now;
    tell();
  }, 250);

  function light(corners) {
    const on = corners.length === 4;
    stage.classList.toggle("cam-read", on);
    box.setAttribute("points", corners.map(([x, y]) => `${x * 1000},${y * 1000}`).join(" "));
    find("marker").textContent = on ? words.wordMarker : words.wordNomarker;
  }

  // The code alone is read by the browser where it can, several times a second; the server tells how the marker stands.
  let reader = null;
  if ("BarcodeDetector" in window) {
    BarcodeDetector.getSupportedFormats().then((f) => { if (f.includes("qr_code")) reader = new BarcodeDetector({ formats: ["qr_code"] }); }, () => {});
  }
  setInterval(async () => {
    if (!reader || !stream || !video.videoWidth || shots.length) return;
    try {
      const ours = (await reader.detect(video)).find((c) => c.rawValue.startsWith("THATCH"));
      if (ours) light(ours.cornerPoints.map((p) => [p.x / video.videoWidth, p.y / video.videoHeight]));
    } catch {
      reader = null;
    }
  }, 400);

  // One small picture at a time; the next one only when the server has had as long a rest as the last one took.
  const small = document.createElement("canvas");
  let seenAt = -Infinity;
  const dogEvery = 6000; // ms: finding the dog is most of the server's work
  async function ask() {
    let pause = 700;
    if (stream && video.videoWidth && !shots.length && !document.hidden && !busy) {
      const k = Math.min(1, 960 / Math.max(video.videoWidth, video.videoHeight));
      small.width = Math.round(video.videoWidth * k);
      small.height = Math.round(video.videoHeight * k);
      small.getContext("2d").drawImage(video, 0, 0, small.width, small.height);
      const jpeg = await new Promise((done) => small.toBlob(done, "image/jpeg", 0.7));
      const began = performance.now();
      try {
        if (jpeg && jpeg.size <= 300 * 1024) {
          const dog = began - seenAt > dogEvery;
          if (dog) seenAt = began;
          const answer = await fetch(`${words.frames}&dog=${dog ? "on" : "off"}`, { method: "POST", body: jpeg, headers: { "Content-Type": "image/jpeg" } });
          if (answer.ok) {
            const look = await answer.json();
            light(look.marker);
            if (dog) faces(look.facing);
            if (dog || look.hints.length) told.there = look.hints;
            tell();
          } else if (answer.status === 401) {
            return;
          } else {
            pause = 3000;
          }
        }
      } catch {
        pause = 5000; // no network: the rest works without
        told.there = [];
      }
      pause = Math.max(pause, 1.5 * (performance.now() - began));
    }
    setTimeout(ask, pause);
  }
  ask();

  // ——— the shot ———

  const later = (ms) => new Promise((done) => setTimeout(done, ms));

  // still is the best picture that the camera gives: a photo of its own where it makes one, else what the page shows.
  async function still() {
    if ("ImageCapture" in window && track?.readyState === "live") {
      try {
        const photo = await Promise.race([new ImageCapture(track).takePhoto(), later(4000).then(() => { throw new Error("slow"); })]);
        return await createImageBitmap(photo);
      } catch {
        // This camera does not, or takes too long.
      }
    }
    return createImageBitmap(video);
  }

  async function take() {
    const at = new Date();
    const bitmap = await still();
    const canvas = document.createElement("canvas");
    canvas.width = bitmap.width;
    canvas.height = bitmap.height;
    canvas.getContext("2d").drawImage(bitmap, 0, 0);
    const sharp = sharpness(bitmap, bitmap.width, bitmap.height);
    bitmap.close();
    const jpeg = await new Promise((done) => canvas.toBlob(done, "image/jpeg", 0.94));
    const file = await dated(jpeg, at);
    const name = `photo-${stamp(at).local.replace(/\D/g, "")}-${shots.length + 1}.jpg`;
    return { file, name, sharp, url: URL.createObjectURL(file) };
  }

  async function shoot() {
    if (busy || !stream || !video.videoWidth || shots.length) return;
    busy = true;
    shutter.setAttribute("aria-disabled", "true");
    root.classList.add("cam-taking");
    try {
      const n = find("burst").checked ? 3 : 1;
      const got = [];
      for (let i = 0; i < n; i++) {
        if (i) await later(250);
        got.push(await take());
      }
      review(got);
    } catch {
      says.textContent = words.wordFailed;
    }
    busy = false;
    shutter.removeAttribute("aria-disabled");
    root.classList.remove("cam-taking");
  }
  shutter.addEventListener("click", shoot);

  function review(got) {
    shots = got;
    const list = find("shots");
    // Clearly the sharpest, or none is said to be.
    const [best, second] = got.map((s) => s.sharp).sort((a, b) => b - a);
    const stands = (shot) => shot.sharp === best && best > 1.1 * second;
    list.replaceChildren(...got.map((shot, i) => {
      const item = document.createElement("li");
      const label = document.createElement("label");
      const check = document.createElement("input");
      check.type = "checkbox";
      check.checked = true;
      check.addEventListener("change", () => { shot.drop = !check.checked; });
      const img = document.createElement("img");
      img.src = shot.url;
      img.alt = `${words.wordShot} ${i + 1}`;
      const note = document.createElement("span");
      note.textContent = blurred(shot.sharp) ? words.wordBlurred : stands(shot) ? words.wordSharpest : "";
      if (got.length > 1) label.append(check);
      label.append(img, note);
      item.append(label);
      return item;
    }));
    find("review").hidden = false;
    stage.hidden = find("tools").hidden = true;
    says.textContent = words.wordTaken;
    find("keep").focus({ preventScroll: true });
  }

  function back() {
    shots = [];
    find("review").hidden = true;
    stage.hidden = find("tools").hidden = false;
    shutter.focus({ preventScroll: true });
    if (!stream && wanted) open();
  }
  function again() {
    if (!shots.length) return;
    for (const s of shots) URL.revokeObjectURL(s.url);
    says.textContent = "";
    back();
  }
  function keep() {
    if (!shots.length) return;
    for (const s of shots) {
      if (s.drop) URL.revokeObjectURL(s.url);
      else queue.push(s);
    }
    back();
    send();
  }
  find("keep").addEventListener("click", keep);
  find("again").addEventListener("click", again);

  // ——— on its way ———

  // Kept shots go into this device's own queue, as files do, and from there to the server; where there is no such store, straight.
  const rows = find("rows");
  const me = document.body.dataset.me ?? "";
  const waiting = new Map(); // in the queue, by its name there
  let store, sending = false;
  const loaded = me && globalThis.indexedDB ? import("./queue.js").then(async (q) => {
    await q.all(me); // throws where there is no store
    q.on((message) => {
      if (waiting.has(message.done)) {
        waiting.delete(message.done);
        arrived(message.row);
      } else if (waiting.has(message.failed)) {
        const row = rowOf(message.row);
        if (row) arrived(message.row);
        else if (message.why !== "refused") says.textContent = words.wordWaits;
        if (row || message.why === "refused") waiting.delete(message.failed);
      }
    });
    store = q;
  }).catch(() => {}) : Promise.resolve();

  async function send() {
    if (sending) return;
    sending = true;
    await loaded;
    for (let shot = queue[0]; shot; shot = queue[0]) {
      says.textContent = words.wordSending;
      try {
        if (store) {
          const item = await store.keep({ kind: "photo", me, to: words.uploads, name: shot.name }, shot.file);
          waiting.set(item.id, true);
          document.dispatchEvent(new Event("outbox:send"));
        } else if (!arrived(await straight(shot))) throw new Error("no row");
      } catch {
        if (store) { store = null; continue; } // no room in it
        find("lost").hidden = false;
        says.textContent = words.wordLost;
        break;
      }
      queue.shift();
      URL.revokeObjectURL(shot.url);
      find("lost").hidden = true;
    }
    sending = false;
  }
  async function straight(shot) {
    const body = new FormData();
    body.append("photos", shot.file, shot.name);
    return (await fetch(words.uploads, { method: "POST", body, headers: { Accept: "text/x-rows" } })).text();
  }
  const rowOf = (html) => new DOMParser().parseFromString(html ?? "", "text/html").querySelector("li.up");
  function arrived(html) {
    const row = rowOf(html);
    if (!row) return false;
    rows.prepend(row);
    find("results").hidden = false;
    says.textContent = row.querySelector(".up-fault, .up-state")?.textContent ?? "";
    return true;
  }
  find("resend").addEventListener("click", send);
  addEventListener("online", send);
  addEventListener("beforeunload", (event) => { if (queue.length || shots.length) event.preventDefault(); });

  // ——— keys, and clickers that send them ———

  const press = new Set(["Enter", " ", "PageDown", "MediaPlayPause", "MediaTrackNext", "AudioVolumeUp", "VolumeUp", "Camera"]);
  const no = new Set(["Escape", "Backspace", "PageUp", "MediaTrackPrevious", "AudioVolumeDown", "VolumeDown"]);
  document.addEventListener("keydown", (event) => {
    if (event.defaultPrevented || event.ctrlKey || event.metaKey || event.altKey || event.repeat) return;
    const at = event.target;
    const own = at.closest("a, button, input, summary, select, label");
    if ((event.key === "Enter" || event.key === " ") && own && own !== shutter) return; // what is focused acts itself
    if (!stream && !shots.length) return;
    if (press.has(event.key)) shots.length ? keep() : shoot();
    else if (no.has(event.key) && shots.length) again();
    else if (event.key === "+" || event.key === "=") shade(10);
    else if (event.key === "-") shade(-10);
    else if (event.key.toLowerCase() === "m" && ghost) { said = true; flip(!flipped); }
    else return;
    event.preventDefault();
  });
}
