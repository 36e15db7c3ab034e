// What waits on this device to be sent: photos, and forms that found no network. It lies in the browser's own store before
// anything is sent, and is taken out only when the server has said that it has it. Pages and the service worker share this
// file; nothing in it needs a page.

import { get, getMany, keys, setMany, delMany, update } from "../vendor/idb-keyval/6.3.0/index.js";

const asideDays = 7;
const mostWaitS = 300;
const answerMS = 20_000;
const stallMS = 45_000;

// The store. Durability is strict: a phone whose battery dies must not lose what was shown as kept.
let opened;
const open = () => opened ??= new Promise((resolve, reject) => {
  const request = indexedDB.open("thatch-outbox", 1);
  request.onupgradeneeded = () => request.result.createObjectStore("waiting");
  request.onsuccess = () => {
    const db = request.result;
    db.onversionchange = () => { db.close(); opened = undefined; };
    db.onclose = () => { opened = undefined; };
    resolve(db);
  };
  request.onerror = request.onblocked = () => { opened = undefined; reject(request.error ?? new Error("blocked")); };
});
const begin = async (mode) => (await open()).transaction("waiting", mode, { durability: "strict" });
const store = async (mode, use) => {
  let step;
  try {
    step = await begin(mode);
  } catch {
    opened = undefined; // the browser closed the store under us, as it does when the phone sleeps
    step = await begin(mode);
  }
  return use(step.objectStore("waiting"));
};

// Everybody who shows what waits is told: here, in other tabs, and in the service worker.
const listeners = new Set();
const channel = globalThis.BroadcastChannel ? new BroadcastChannel("thatch-outbox") : null;
if (channel) channel.onmessage = (event) => { for (const hear of listeners) hear(event.data, true); };
export const on = (hear) => { listeners.add(hear); return () => listeners.delete(hear); };
const tell = (message) => {
  channel?.postMessage(message);
  for (const hear of [...listeners]) hear(message, false);
};

const random = (n) => [...crypto.getRandomValues(new Uint8Array(n))].map((b) => b.toString(16).padStart(2, "0")).join("");

// keep puts something in; it throws where the browser has no room or no store. Names sort by time.
export async function keep(item, file) {
  const kept = { tries: 0, next: 0, why: "", state: "waiting", ...item, id: `${Date.now().toString(36).padStart(9, "0")}-${random(5)}`, at: Date.now() };
  if (kept.kind === "log") kept.key = random(16);
  await setMany(file ? [[`i ${kept.id}`, kept], [`f ${kept.id}`, file]] : [[`i ${kept.id}`, kept]], store);
  tell({ changed: true, added: kept.id });
  return kept;
}

export const fileOf = (id) => get(`f ${id}`, store);

// all is everything of a person that is here, oldest first. What was put aside longer ago than a week is thrown away.
export async function all(me) {
  const names = (await keys(store)).filter((k) => typeof k === "string" && k.startsWith("i ")).sort();
  const items = (await getMany(names, store)).filter((item) => item?.me === me);
  const old = items.filter((item) => item.state === "aside" && Date.now() - item.asideAt > asideDays * 86_400_000);
  if (old.length) await drop(...old.map((item) => item.id));
  return items.filter((item) => !old.includes(item));
}

// total is how much waits here of anybody's: nothing else is told of another's.
export async function total() {
  const names = (await keys(store)).filter((k) => typeof k === "string" && k.startsWith("i "));
  return (await getMany(names, store)).filter((item) => item && item.state !== "aside").length;
}

export const mark = (id, fields) => change(id, fields);

export const drop = (...ids) => delMany(ids.flatMap((id) => [`i ${id}`, `f ${id}`]), store);

async function change(id, fields) {
  await update(`i ${id}`, (item) => item && { ...item, ...fields }, store);
}

// What a person can do with one of them.
export async function again(id) {
  await change(id, { state: "waiting", why: "", next: 0, tries: 0 });
  tell({ changed: true, added: id });
}
export async function aside(id) {
  await change(id, { state: "aside", asideAt: Date.now() });
  tell({ changed: true });
}
// onTop says it again, knowing what stands there; what was said after it in the same place follows it.
export async function onTop(me, id) {
  const items = await all(me);
  const item = items.find((i) => i.id === id);
  if (!item) return;
  const rev = item.nowRev || item.rev;
  for (const later of items) {
    if (later.of !== item.of || later.id < id || later.rev !== item.rev || later.kind !== "log") continue;
    await change(later.id, { rev, body: withRev(later.body, rev), ...(later.id === id ? { state: "waiting", why: "", now: [], next: 0, key: random(16) } : {}) });
  }
  tell({ changed: true, added: id });
}

const withRev = (body, rev) => {
  const form = new URLSearchParams(body);
  if (form.has("rev") && rev) form.set("rev", String(rev));
  return form.toString();
};

// One at a time in each lane, over all tabs. Without locks a note with an end does; should two send the same after all, the
// server keeps it once.
async function alone(lane, work) {
  if (globalThis.navigator?.locks) {
    return navigator.locks.request(`thatch-outbox-${lane}`, lane === "photo" ? { ifAvailable: true } : {}, (lock) => (lock ? work() : { busy: true }));
  }
  const mine = random(4);
  let got = false;
  await update(`l ${lane}`, (lease) => {
    got = !lease || lease.until < Date.now();
    return got ? { by: mine, until: Date.now() + 2 * stallMS } : lease;
  }, store);
  if (!got) return { busy: true };
  const renew = setInterval(() => update(`l ${lane}`, (lease) => (lease?.by === mine ? { by: mine, until: Date.now() + 2 * stallMS } : lease), store).catch(() => {}), stallMS / 2);
  try {
    return await work();
  } finally {
    clearInterval(renew);
    await update(`l ${lane}`, (lease) => (lease?.by === mine ? { by: mine, until: 0 } : lease), store).catch(() => {});
  }
}

// send sends what is due of a lane ("photo" or "log"), oldest first. force: also what waits for its next try. The answer says
// in how many milliseconds there is more to do, if there is: {next}, and whether somebody must sign in first: {signIn}.
export function send(me, lane, force) {
  return alone(lane, async () => {
    const tried = new Set();
    for (;;) {
      const items = await all(me);
      const item = items.find((i) => i.kind === lane && i.state === "waiting" && !tried.has(i.id) && (force || i.next <= Date.now()) && !blocked(i, items));
      if (!item) return rest(items, lane);
      tried.add(item.id);
      tell({ sending: item.id });
      const got = await (lane === "photo" ? sendPhoto(item) : sendLog(item));
      await settle(item, got);
      if (got.done) force = true; // the network is there
      if (got.signIn) return { signIn: true };
      if (got.lost) return rest(await all(me), lane); // no network: the others would fare no better
    }
  });
}

// What was said before it in the same place is settled first.
const blocked = (item, items) => item.kind === "log" && items.some((i) => i.kind === "log" && i.of === item.of && i.id < item.id && (i.state === "waiting" || i.state === "conflict"));

function rest(items, lane) {
  const due = items.filter((i) => i.kind === lane && i.state === "waiting" && !blocked(i, items)).map((i) => i.next);
  return due.length ? { next: Math.max(500, Math.min(...due) - Date.now()) } : {};
}

async function settle(item, got) {
  if (got.done) {
    await drop(item.id);
    if (got.rev) await follow(item, got.rev);
    tell({ changed: true, done: item.id, row: got.row, to: got.to });
    return;
  }
  const tries = item.tries + 1;
  if (got.signIn) await change(item.id, { why: "signin" });
  else if (got.conflict) await change(item.id, { state: "conflict", why: got.say, now: got.now, nowRev: got.nowRev });
  else if (got.refused) await change(item.id, { state: "refused", why: got.say ?? "" });
  else {
    const next = Date.now() + (got.afterMS ?? 1000 * Math.min(mostWaitS, 2 ** tries) * (0.75 + Math.random() / 2));
    await change(item.id, { why: got.lost ? "network" : got.full ? "full" : "server", tries, next });
    if (got.lost) for (const i of await all(item.me)) if (i.kind === item.kind && i.state === "waiting" && i.next < next) await change(i.id, { why: "network", next });
  }
  tell({ changed: true, failed: item.id, row: got.row, lost: Boolean(got.lost), why: got.signIn ? "signin" : got.conflict ? "conflict" : got.refused ? "refused" : "later", say: got.say });
}

// What was said after it from the same page goes on from the version that it made.
async function follow(item, rev) {
  for (const later of await all(item.me)) {
    if (later.kind === "log" && later.of === item.of && later.id > item.id && later.rev === item.rev) await change(later.id, { rev, body: withRev(later.body, rev) });
  }
}

async function sendPhoto(item) {
  const file = await fileOf(item.id);
  if (!file) return { refused: true, say: "" };
  const body = new FormData();
  body.append("photos", file, item.name);
  const answer = await ask(item.to, { headers: { Accept: "text/x-rows", "Thatch-Account": item.me }, body, report: (part) => tell({ sending: item.id, part }) });
  const bad = answer.status ? trouble(answer) : (await mayNot(item)) ?? { lost: true };
  if (bad) return bad;
  if (answer.header("Thatch-Kept")) return { done: true, row: answer.text };
  const why = answer.header("Thatch-Refused");
  if (why) return { refused: true, say: decodeURIComponent(why), row: answer.text };
  return answer.status >= 400 ? { refused: true } : { lost: true }; // 200 from somebody else, as a hotel's Wi-Fi does
}

async function sendLog(item) {
  const headers = { "Content-Type": "application/x-www-form-urlencoded;charset=UTF-8", Accept: "application/json", "Thatch-Once": item.key, "Thatch-Account": item.me };
  if (item.later) headers["Thatch-Later"] = "1";
  const answer = await ask(item.to, { headers, body: item.body, limitMS: answerMS });
  const bad = trouble(answer);
  if (bad) return bad;
  let said;
  try {
    said = JSON.parse(answer.text);
  } catch {
    return answer.status >= 400 ? { refused: true } : { lost: true };
  }
  if (answer.status === 200) return { done: true, to: said.to, rev: said.rev };
  if (answer.status === 409) return { conflict: true, say: said.say, now: said.now ?? [], nowRev: said.rev };
  return { refused: true, say: said.say };
}

// mayNot asks whether it is for want of a sign-in: a server that does not want a photo hangs up before it has read it.
async function mayNot(item) {
  try {
    const answer = await fetch("/outbox", { redirect: "manual", headers: { "Thatch-Ahead": "1" } });
    return answer.type === "opaqueredirect" || answer.ok && answer.headers.get("Thatch-Account") !== item.me ? { signIn: true } : null;
  } catch {
    return null;
  }
}

// trouble is what may pass by itself.
function trouble(answer) {
  if (!answer.status) return { lost: true };
  if (answer.status === 401 || new URL(answer.url, location.href).pathname === "/signin") return { signIn: true };
  if (answer.status === 429 || answer.status >= 500) {
    const afterS = Number(answer.header("Retry-After"));
    return { full: answer.status === 507, afterMS: afterS > 0 ? afterS * 1000 : undefined };
  }
  return null;
}

// ask posts; in a page it also says how far it is. Where nothing moves for long it gives up: on bad Wi-Fi that is a lost answer.
function ask(to, { headers, body, report, limitMS }) {
  if (!globalThis.XMLHttpRequest) return askPlainly(to, headers, body, limitMS);
  return new Promise((resolve) => {
    const request = new XMLHttpRequest();
    let watch;
    const moved = () => {
      clearTimeout(watch);
      watch = setTimeout(() => request.abort(), limitMS ?? stallMS);
    };
    request.open("POST", to);
    for (const [name, value] of Object.entries(headers)) request.setRequestHeader(name, value);
    request.upload.addEventListener("progress", (event) => {
      moved();
      if (event.lengthComputable) report?.(event.loaded / event.total);
    });
    request.addEventListener("loadend", () => {
      clearTimeout(watch);
      current.delete(request);
      resolve({ status: request.status, url: request.responseURL || to, text: request.responseText ?? "", header: (name) => request.getResponseHeader(name) });
    });
    current.add(request);
    moved();
    request.send(body);
  });
}

const current = new Set();
// A page that the phone puts to sleep lets go, so that another may send.
export const letGo = () => { for (const request of current) request.abort(); };

async function askPlainly(to, headers, body, limitMS) {
  try {
    const answer = await fetch(to, { method: "POST", headers, body, signal: AbortSignal.timeout(limitMS ?? 4 * stallMS) });
    return { status: answer.status, url: answer.url, text: await answer.text(), header: (name) => answer.headers.get(name) };
  } catch {
    return { status: 0, url: to, text: "", header: () => null };
  }
}
