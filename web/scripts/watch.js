// What a camera's picture tells by itself: light, rest and sharpness, in a picture small enough to be looked at four times a
// second on a phone. Thresholds are judgement, no source; where a picture is neither clearly good nor clearly bad nothing is said.

const wide = 96, high = 72;

export class Watch {
  constructor() {
    this.canvas = document.createElement("canvas");
    this.canvas.width = wide;
    this.canvas.height = high;
    this.paper = this.canvas.getContext("2d", { willReadFrequently: true });
    this.last = null;
  }

  // look answers "dark", "bright", "behind" or "shaken" for what is wrong, the worst first; "" for nothing.
  look(picture) {
    this.paper.drawImage(picture, 0, 0, wide, high);
    const now = greys(this.paper.getImageData(0, 0, wide, high).data);
    const was = this.last;
    this.last = now;
    return lightOf(now) || (was && moved(was, now) > 14 ? "shaken" : "");
  }
}

// greys are the luma of RGBA samples (ITU-R BT.601), 0 to 255.
export function greys(rgba) {
  const out = new Float32Array(rgba.length / 4);
  for (let i = 0; i < out.length; i++) out[i] = 0.299 * rgba[4 * i] + 0.587 * rgba[4 * i + 1] + 0.114 * rgba[4 * i + 2];
  return out;
}

function lightOf(g) {
  let sum = 0, glare = 0, mid = 0, rim = 0, mids = 0, rims = 0;
  for (let y = 0; y < high; y++) {
    for (let x = 0; x < wide; x++) {
      const v = g[y * wide + x];
      sum += v;
      if (v > 250) glare++;
      if (x > wide / 4 && x < (3 * wide) / 4 && y > high / 4 && y < (3 * high) / 4) { mid += v; mids++; }
      else if (y < high / 6 || x < wide / 8 || x >= (7 * wide) / 8) { rim += v; rims++; }
    }
  }
  if (sum / g.length < 50) return "dark";
  if (mid / mids < 0.45 * (rim / rims) && rim / rims > 140) return "behind";
  if (glare / g.length > 0.3) return "bright";
  return "";
}

function moved(a, b) {
  let sum = 0;
  for (let i = 0; i < a.length; i++) sum += Math.abs(a[i] - b[i]);
  return sum / a.length;
}

// sharpness of a picture: the spread of its Laplacian against that of its greys, at a size at which pictures of one camera can
// be held against each other.
export function sharpness(picture, width, height) {
  const canvas = document.createElement("canvas");
  const k = 640 / Math.max(width, height);
  const w = (canvas.width = Math.max(8, Math.round(width * k))), h = (canvas.height = Math.max(8, Math.round(height * k)));
  const paper = canvas.getContext("2d");
  paper.drawImage(picture, 0, 0, w, h);
  const g = greys(paper.getImageData(0, 0, w, h).data);
  let n = 0, edges = 0, sum = 0, squares = 0;
  for (let y = 1; y < h - 1; y++) {
    for (let x = 1; x < w - 1; x++) {
      const i = y * w + x, d = 4 * g[i] - g[i - 1] - g[i + 1] - g[i - w] - g[i + w];
      n++;
      edges += d * d;
      sum += g[i];
      squares += g[i] * g[i];
    }
  }
  const spread = squares / n - (sum / n) ** 2;
  return spread < 1 ? 0 : edges / n / spread;
}

// blurred: so little of what changes in the picture changes from one pixel to the next that the eye sees it.
export const blurred = (sharp) => sharp < 0.004;

// held is how a device is held, from its orientation (W3C DeviceOrientation: intrinsic turns by alpha, beta, gamma): degrees that
// the picture leans to the right, and that the camera on its back looks down.
export function held(beta, gamma, screenDeg) {
  const rad = Math.PI / 180;
  const b = beta * rad, c = gamma * rad;
  // Where up is, along the device's own axes.
  const x = -Math.cos(b) * Math.sin(c), y = Math.sin(b), z = Math.cos(b) * Math.cos(c);
  let lean = -Math.atan2(x, y) / rad - screenDeg;
  lean = ((((lean + 180) % 360) + 360) % 360) - 180;
  return { lean, down: Math.asin(Math.max(-1, Math.min(1, z))) / rad };
}
