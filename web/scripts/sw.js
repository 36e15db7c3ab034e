// The service worker: files of the program from its own copy; the pages of the table from the network, and where that does
// not answer, as they were seen last; and what waits is sent when the phone is awake, even if no page is open. What it keeps
// is one person's, and goes when she signs out. `version` and `shell` are put in front by the server, with queue.js.

const files = `thatch-files-${version}`;
const about = "thatch-about";
const patienceMS = 5000;
const actedMS = 15_000;
const mostPages = 150;
const mostPageBytes = 400_000;
const mostPictures = 500;
const mostPictureBytes = 120_000;
const freshMS = 10 * 60_000;
// A copy outlives a lost network, not a lost phone: a sign-in may have ended meanwhile without this browser hearing of it.
const oldestMS = 3 * 24 * 3600_000;

// Pages that are kept. People, settings, the log of changes and what clients see never are: they are not in the list.
const keptPages = [/^\/$/, /^\/dogs$/, /^\/heap$/, /^\/outbox$/, /^\/offline$/, /^\/dogs\/[^/]+$/, /^\/dogs\/[^/]+\/(plan|sheet|photos\/new|sessions\/new)$/, /^\/sessions\/[^/]+(\/work)?$/];
const picture = /^\/(photos|heap)\/[^/]+\/(picture|over|balanced)\//;
// Not ours to answer for: strangers' pages, and what only works with the server.
const leftAlone = /^\/(share|join|trust|owner|api)(\/|$)/;

self.addEventListener("install", (event) => {
  event.waitUntil((async () => {
    const cache = await caches.open(files);
    await cache.addAll(shell);
    const offline = await fetch("/offline", { credentials: "omit" });
    if (offline.ok) await cache.put("/offline", offline);
    await self.skipWaiting();
  })());
});

self.addEventListener("activate", (event) => {
  event.waitUntil((async () => {
    for (const name of await caches.keys()) {
      if (name.startsWith("thatch-") && name !== files && name !== about && !name.includes(version)) await caches.delete(name);
    }
    await self.registration.navigationPreload?.enable();
    await self.clients.claim();
  })());
});

// Whose copies these are.
let account;
async function whose() {
  if (account === undefined) account = (await (await (await caches.open(about)).match("/whose"))?.text()) ?? "";
  return account;
}
const pagesOf = (me) => `thatch-pages-${version}-${me}`;
const picturesOf = (me) => `thatch-pictures-${version}-${me}`;

async function belongTo(me) {
  if (await whose() === me) return;
  await forget();
  account = me;
  await (await caches.open(about)).put("/whose", new Response(me));
}

async function forget() {
  account = "";
  for (const name of await caches.keys()) if (/^thatch-(pages|pictures|about)/.test(name)) await caches.delete(name);
}

self.addEventListener("fetch", (event) => {
  const request = event.request;
  const url = new URL(request.url);
  if (url.origin !== location.origin) return;
  if (request.method !== "GET") {
    acted = Date.now();
    if (url.pathname === "/signout") event.waitUntil(forget());
    return;
  }
  if (leftAlone.test(url.pathname)) return;
  if (url.pathname.startsWith("/assets/")) event.respondWith(file(request));
  else if (request.mode === "navigate") event.respondWith(page(event, url));
  else if (picture.test(url.pathname)) event.respondWith(pictureOf(event));
});

// After an action its page is waited for: an older copy would not show what was done.
let acted = 0;

async function file(request) {
  const kept = await caches.match(request, { ignoreVary: true });
  if (kept) return kept;
  const answer = await fetch(request);
  if (answer.ok && request.url.includes(`/assets/${version}/`)) (await caches.open(files)).put(request, answer.clone()).catch(() => {});
  return answer;
}

const mayKeep = (url) => keptPages.some((p) => p.test(url.pathname));

async function page(event, url) {
  const network = (async () => {
    const answer = (await event.preloadResponse) ?? (await fetch(event.request));
    event.waitUntil(learn(url, answer.clone()).catch(() => {}));
    return answer;
  })();
  if (!mayKeep(url)) return network.catch(() => notHere());
  network.catch(() => {});
  const late = new Promise((resolve) => { if (Date.now() - acted > actedMS) setTimeout(resolve, patienceMS, null); });
  const first = await Promise.race([network.catch(() => null), late]);
  if (first) return first;
  const kept = await keptOf(url);
  if (kept) {
    event.waitUntil(network.catch(() => {}));
    return kept;
  }
  return network.catch(() => notHere());
}

// learn keeps a page that was answered, and forgets what the server no longer shows.
async function learn(url, answer) {
  if (answer.type === "opaqueredirect") return;
  if (answer.ok && new URL(answer.url || url).pathname === "/signin" || answer.status === 401) return forget();
  const me = answer.headers.get("Thatch-Account");
  if (!me) return;
  if (me === "none") return forget();
  await belongTo(me);
  if (!mayKeep(url)) return;
  const cache = await caches.open(pagesOf(me));
  if (answer.status === 403 || answer.status === 404) await cache.delete(bare(url), { ignoreVary: true });
  if (!answer.ok || answer.redirected || !answer.headers.get("Content-Type")?.startsWith("text/html")) return;
  const text = await answer.text();
  if (text.length > mostPageBytes) return;
  const headers = new Headers(answer.headers);
  headers.delete("Content-Encoding"); // the text is plain by now
  headers.delete("Content-Length");
  headers.set("Thatch-At", String(Date.now()));
  await cache.put(bare(url), new Response(text, { headers }));
  await trim(cache, mostPages);
  return text;
}

// A step of the sheet is kept without the word on what was just done.
function bare(url) {
  const out = new URL(url);
  out.hash = "";
  for (const name of ["undo", "was", "loft"]) out.searchParams.delete(name);
  return out.href;
}

async function trim(cache, most) {
  const names = await cache.keys();
  for (const name of names.slice(0, Math.max(0, names.length - most))) await cache.delete(name);
}

// keptOf is a page as it was seen last; it says so itself (html[data-kept-at]), and no longer what was said on it once.
async function keptOf(url) {
  const me = await whose();
  if (!me) return null;
  const cache = await caches.open(pagesOf(me));
  const kept = await cache.match(bare(url), { ignoreVary: true });
  if (!kept) return null;
  if (Date.now() - Number(kept.headers.get("Thatch-At")) > oldestMS) {
    await cache.delete(bare(url), { ignoreVary: true });
    return null;
  }
  const text = (await kept.text()).replace("<html ", `<html data-kept-at="${kept.headers.get("Thatch-At")}" `).replace(/<div class="said"[\s\S]*?<\/div>/, "");
  return new Response(text, { headers: kept.headers });
}

async function notHere() {
  const me = await whose();
  const own = me && await (await caches.open(pagesOf(me))).match(new URL("/offline", location.href).href, { ignoreVary: true });
  return own || (await caches.match("/offline", { ignoreVary: true })) || Response.error();
}

async function pictureOf(event) {
  const me = await whose();
  const cache = me && await caches.open(picturesOf(me));
  const thumb = event.request.url.includes("/picture/thumb");
  if (cache && thumb) { // its bytes never change
    const kept = await cache.match(event.request, { ignoreVary: true });
    if (kept) return kept;
  }
  try {
    const answer = await fetch(event.request);
    if (cache) event.waitUntil(keepPicture(cache, event.request.url, answer.clone()).catch(() => {}));
    return answer;
  } catch (error) {
    const kept = cache && await cache.match(event.request, { ignoreVary: true });
    if (kept) return kept;
    throw error;
  }
}

async function keepPicture(cache, url, answer) {
  if (answer.status !== 200 || (answer.headers.get("Thatch-Account") ?? "none") === "none") return;
  const bytes = await answer.blob();
  if (bytes.size > mostPictureBytes) return;
  await cache.put(url, new Response(bytes, { headers: answer.headers }));
  if (Math.random() < 0.05) await trim(cache, mostPictures);
}

const pause = () => new Promise((resolve) => { setTimeout(resolve, 100); }); // nobody waits for it, and others ask too

// What is likely to be read without network is fetched ahead, slowly, and not again for ten minutes.
async function fetchAhead(me) {
  await belongTo(me);
  const notes = await caches.open(about);
  const last = Number(await (await notes.match("/ahead"))?.text() ?? 0);
  if (Date.now() - last < freshMS) return;
  await notes.put("/ahead", new Response(String(Date.now())));
  const headers = { "Thatch-Ahead": "1" };
  const list = await fetch("/ahead", { headers });
  if (!list.ok || list.headers.get("Thatch-Account") !== me) return;
  const pictures = new Set();
  for (const path of (await list.json()).pages) {
    if (await whose() !== me) return; // signed out meanwhile
    const url = new URL(path, location.href);
    try {
      const text = await learn(url, await fetch(url, { headers }));
      for (const found of [...(text ?? "").matchAll(/src="(\/(?:photos|heap)\/[^"]+)"/g)].slice(0, 16)) pictures.add(found[1].replaceAll("&amp;", "&"));
    } catch {
      await notes.delete("/ahead"); // the network went: begin again the next time
      return;
    }
    await pause();
  }
  const cache = await caches.open(picturesOf(me));
  for (const src of [...pictures].slice(0, 200)) {
    const url = new URL(src, location.href).href;
    if (await whose() !== me) return;
    if (await cache.match(url, { ignoreVary: true })) continue;
    await keepPicture(cache, url, await fetch(url, { headers }).catch(() => Response.error()));
    await pause();
  }
  await trim(cache, mostPictures);
  for (const client of await self.clients.matchAll()) client.postMessage({ ahead: "done" });
}

self.addEventListener("message", (event) => {
  if (event.data?.ahead) event.waitUntil(fetchAhead(event.data.ahead));
  if (event.data?.forget) event.waitUntil(forget().then(() => event.ports[0]?.postMessage("done")));
});

// Background Sync, where the browser has it: the phone is locked or the program closed, and the network is back.
self.addEventListener("sync", (event) => {
  if (event.tag !== "thatch-outbox") return;
  event.waitUntil((async () => {
    const me = await whose();
    if (!me) return;
    for (const lane of ["log", "photo"]) {
      const left = await send(me, lane, true);
      if (left?.next) throw new Error("not all of it went"); // the browser tries again, later and later
    }
  })());
});
