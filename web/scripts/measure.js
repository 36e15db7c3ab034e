// Plus and minus of a length, answered at once: a millimetre, or a sixteenth of an inch. Without this script they are sent and
// the page comes back with the other figure.

const card = document.querySelector("[data-measure]");
const field = card?.querySelector("[data-mm]");
const fractions = ["", "1⁄16", "⅛", "3⁄16", "¼", "5⁄16", "⅜", "7⁄16", "½", "9⁄16", "⅝", "11⁄16", "¾", "13⁄16", "⅞", "15⁄16"];

// steps is the figure in steps of a ruler; NaN where it is not one that this script writes itself.
function steps(text) {
  const plain = text.trim().replace(",", ".");
  if (plain === "") return 0;
  if (field.dataset.mm === "mm") return /^\d+(\.\d+)?$/.test(plain) ? Number(plain) : NaN;
  if (/^\d+(\.\d+)?$/.test(plain)) return Math.round(Number(plain) * 16);
  const [, whole, part] = plain.match(/^(\d+)?\s*(\S+)$/) ?? [];
  const n = fractions.indexOf(part);
  return n > 0 ? Number(whole ?? 0) * 16 + n : NaN;
}

function written(n) {
  if (field.dataset.mm === "mm") return (Math.round(n * 2) / 2).toLocaleString(document.documentElement.lang, { useGrouping: false });
  const whole = Math.floor(n / 16);
  return [whole || (n % 16 ? "" : "0"), fractions[n % 16]].filter(Boolean).join(" ");
}

card?.addEventListener("click", (event) => {
  const button = event.target.closest("[data-nudge]");
  if (!button) return;
  const now = steps(field.value);
  if (Number.isNaN(now)) return; // the server reads more than this script does
  event.preventDefault();
  field.value = written(Math.max(0, now + Number(button.dataset.nudge)));
});
field?.addEventListener("focus", () => field.select());
