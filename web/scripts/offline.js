// The page shown without network: it lists what is kept on this device and leads there.

const list = document.querySelector("[data-offline-list]");
const words = list.dataset;
const oldestMS = 3 * 24 * 3600_000; // as in sw.js

// Which pages are listed, in which order, and what they are called beside their title.
const kinds = [
  [/^\/$/], [/^\/sessions\/[^/]+$/, words.wordSession], [/^\/dogs\/[^/]+\/sheet/, words.wordSheet], [/^\/dogs\/[^/]+$/], [/^\/dogs\/[^/]+\/plan$/],
  [/^\/outbox$/], [/^\/(dogs|heap)$/],
];

async function kept() {
  const pages = [];
  for (const name of await caches.keys()) {
    if (!name.startsWith("thatch-pages-")) continue;
    const cache = await caches.open(name);
    for (const request of await cache.keys()) {
      const url = new URL(request.url);
      const place = kinds.findIndex(([form]) => form.test(url.pathname));
      if (place < 0) continue;
      const answer = await cache.match(request, { ignoreVary: true });
      if (Date.now() - Number(answer.headers.get("Thatch-At")) > oldestMS) {
        await cache.delete(request, { ignoreVary: true });
        continue;
      }
      const title = new DOMParser().parseFromString(await answer.text(), "text/html").title.replace(/ · Thatch$/, "");
      pages.push({ place, title, kind: kinds[place][1], to: url.pathname + url.search, at: new Date(Number(answer.headers.get("Thatch-At"))) });
    }
  }
  return pages.sort((a, b) => a.place - b.place || a.title.localeCompare(b.title, document.documentElement.lang));
}

if (globalThis.caches) {
  kept().then((pages) => {
    document.querySelector("[data-offline-none]").hidden = pages.length > 0;
    list.replaceChildren(...pages.map((page) => {
      const line = document.createElement("li");
      const link = document.createElement("a");
      link.href = page.to;
      link.textContent = page.title;
      const at = document.createElement("small");
      const lang = document.documentElement.lang;
      const time = page.at.toLocaleTimeString(lang, { hour: "2-digit", minute: "2-digit" });
      const when = page.at.toDateString() === new Date().toDateString() ? time : `${page.at.toLocaleDateString(lang, { day: "numeric", month: "short" })}, ${time}`;
      at.textContent = [page.kind, words.wordAt.replace("{at}", when)].filter(Boolean).join(", ");
      line.append(link, at);
      return line;
    }));
  }).catch(() => {});
}

document.querySelector("[data-offline-again]").addEventListener("click", () => location.reload());
