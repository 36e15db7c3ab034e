// A picture from a canvas does not say when it was taken. dated puts an EXIF block of two dates into a JPEG (Exif 2.32, section
// 4.6): when the shutter was pressed by this device's clock, with its offset from UTC. Nothing else is claimed of the photo.

const two = (n) => String(n).padStart(2, "0");

// stamp is a moment as EXIF writes it: wall clock and offset.
export function stamp(at) {
  const ahead = -at.getTimezoneOffset(); // minutes that the wall clock is ahead of UTC
  const size = Math.abs(ahead);
  return {
    local: `${at.getFullYear()}:${two(at.getMonth() + 1)}:${two(at.getDate())} ${two(at.getHours())}:${two(at.getMinutes())}:${two(at.getSeconds())}`,
    offset: `${ahead < 0 ? "-" : "+"}${two(Math.floor(size / 60))}:${two(size % 60)}`,
  };
}

// block is the APP1 segment with its marker, big-endian: the first directory points at the second, which holds four texts.
export function block({ local, offset }) {
  const texts = [[0x9003, local], [0x9004, local], [0x9011, offset], [0x9012, offset]];
  const tiff = [];
  const short = (n) => tiff.push(n >> 8 & 255, n & 255);
  const long = (n) => { short(n >>> 16); short(n & 0xffff); };
  tiff.push(0x4d, 0x4d);
  short(42);
  long(8);
  short(1); // directory 0: one entry, the pointer to the EXIF directory
  short(0x8769); short(4); long(1); long(26);
  long(0);
  short(texts.length);
  let at = 26 + 2 + 12 * texts.length + 4;
  for (const [tag, text] of texts) {
    short(tag); short(2); long(text.length + 1); long(at);
    at += text.length + 1;
  }
  long(0);
  for (const [, text] of texts) {
    for (const c of text) tiff.push(c.charCodeAt(0));
    tiff.push(0);
  }
  const length = tiff.length + 8;
  return Uint8Array.from([0xff, 0xe1, length >> 8, length & 255, 0x45, 0x78, 0x69, 0x66, 0, 0, ...tiff]);
}

// dated is the JPEG with the block behind its first two bytes.
export async function dated(jpeg, at) {
  const head = new Uint8Array(await jpeg.slice(0, 2).arrayBuffer());
  if (head[0] !== 0xff || head[1] !== 0xd8) throw new Error("not a JPEG");
  return new Blob([jpeg.slice(0, 2), block(stamp(at)), jpeg.slice(2)], { type: "image/jpeg" });
}
