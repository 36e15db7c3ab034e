// A session's page: photos that another phone has sent meanwhile appear without a reload, and what is pointed at is not folded
// away. The page works without this.

const everyMS = 10_000;
const tiles = document.querySelector("[data-session-photos]");
let busy = false;

async function look() {
  if (busy || document.visibilityState !== "visible") return;
  busy = true;
  try {
    const answer = await fetch(tiles.dataset.sessionPhotos, { headers: { Accept: "text/html" } });
    if (answer.ok && !answer.redirected) {
      const next = new DOMParser().parseFromString(await answer.text(), "text/html").querySelector("[data-session-photos]");
      const now = (of) => [...of.querySelectorAll("a")].map((a) => a.getAttribute("href")).join(" ");
      if (next && (now(next) !== now(tiles) || next.dataset.n !== tiles.dataset.n)) {
        tiles.dataset.n = next.dataset.n;
        tiles.replaceChildren(...next.childNodes);
        const count = document.querySelector("[data-photo-count]");
        if (count) count.textContent = next.dataset.n;
      }
    }
  } catch { /* no network: the next look may find it */ }
  busy = false;
}

// Only a session that may still be photographed is worth asking for.
if (tiles && document.querySelector(".session-table")) {
  setInterval(look, everyMS);
  document.addEventListener("visibilitychange", look);
}

const unfold = () => {
  const at = location.hash.length > 1 && document.getElementById(location.hash.slice(1));
  for (let box = at && at.closest("details"); box; box = box.parentElement.closest("details")) box.open = true;
  if (at && at.matches("details")) at.open = true;
};
addEventListener("hashchange", unfold);
unfold();
