// The page shown without network: it lists what is kept on this device and leads there.

const list = document.querySelector("[data-offline-list]");
const words = list.dataset;

const kinds = [
  [/^\/$/, words.wordToday], [/^\/sessions\/[^/]+$/, null], [/^\/sessions\//, undefined], [/^\/dogs\/[^/]+\/sheet/, null], [/^\/dogs\/[^/]+\/plan$/, null],
  [/^\/dogs\/[^/]+$/, null], [/^\/outbox$/, null], [/^\/(dogs|heap)$/, null],
];

async function kept() {
  const pages = [];
  for (const name of await caches.keys()) {
    if (!name.startsWith("thatch-pages-")) continue;
    const cache = await caches.open(name);
    for (const request of await cache.keys()) {
      const url = new URL(request.url);
      const place = kinds.findIndex(([form]) => form.test(url.pathname));
      if (place < 0 || kinds[place][1] === undefined) continue;
      const answer = await cache.match(request, { ignoreVary: true });
      const title = kinds[place][1] ?? new DOMParser().parseFromString(await answer.text(), "text/html").title.replace(/ · Thatch$/, "");
      pages.push({ place, title, to: url.pathname + url.search, at: Number(answer.headers.get("Thatch-At")) });
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
      at.textContent = words.wordAt.replace("{at}", new Date(page.at).toLocaleString(document.documentElement.lang, { day: "numeric", month: "short", hour: "2-digit", minute: "2-digit" }));
      line.append(link, at);
      return line;
    }));
  }).catch(() => {});
}

document.querySelector("[data-offline-again]").addEventListener("click", () => location.reload());
