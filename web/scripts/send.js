// The text of a page goes to whoever it is for: by the phone's own way of sharing, or by copying. Without a script it is
// chosen and copied by hand.
const text = document.querySelector("[data-send]");
const share = document.querySelector("[data-send-share]");
const copy = document.querySelector("[data-send-copy]");
if (text && share && navigator.share) {
  share.hidden = false;
  share.addEventListener("click", () => navigator.share({ title: document.title, text: text.value }).catch(() => {}));
}
if (text && copy) {
  copy.hidden = false;
  copy.addEventListener("click", async () => {
    try {
      await navigator.clipboard.writeText(text.value); // only where the connection is secure
    } catch {
      text.select();
      document.execCommand("copy");
    }
    copy.textContent = copy.dataset.copied;
  });
}
