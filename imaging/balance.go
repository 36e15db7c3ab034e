package imaging

import (
	"image"
	"math"
)

// Balance is a white balance: what the light of red, green and blue is multiplied by. It is of linear light of sRGB's own
// primaries (von Kries' rule, in these primaries instead of the cones').
type Balance [3]float64

const (
	// A patch this dark is noise, and one this bright is cut off by the sensor: neither tells a colour. Encoded, 0–255.
	darkestPatch, brightestPatch = 24.0, 250.0
	// maxGain is more than any lamp of a room asks for: a patch as coloured is lit by something else. Judgement.
	maxGain = 2.5
	// maxPatchesApart is how far two patches may disagree, in ln of a gain: more is glare, dirt or a shadow. Judgement.
	maxPatchesApart = 0.15
)

// BalanceOf is the balance that makes neutral patches neutral and leaves their luminance as it is. Patches are colours of
// sRGB, 0–255 encoded; nil or useless ones are left out. It is not ok where none is left, where they disagree, or where the
// light would have to be changed beyond belief.
func BalanceOf(patches ...*[3]float64) (b Balance, ok bool) {
	var logs []Balance
	for _, p := range patches {
		if p == nil {
			continue
		}
		least, most := math.Min(p[0], math.Min(p[1], p[2])), math.Max(p[0], math.Max(p[1], p[2]))
		if !(least >= darkestPatch && most <= brightestPatch) {
			continue
		}
		r, g, bl := linearOf(p[0]/255), linearOf(p[1]/255), linearOf(p[2]/255)
		y := 0.2126*r + 0.7152*g + 0.0722*bl
		logs = append(logs, Balance{math.Log(y / r), math.Log(y / g), math.Log(y / bl)})
	}
	if len(logs) == 0 {
		return b, false
	}
	for c := range b {
		sum, low, high := 0.0, math.Inf(1), math.Inf(-1)
		for _, l := range logs {
			sum, low, high = sum+l[c], math.Min(low, l[c]), math.Max(high, l[c])
		}
		b[c] = math.Exp(sum / float64(len(logs)))
		if high-low > maxPatchesApart || b[c] > maxGain || b[c] < 1/maxGain {
			return Balance{}, false
		}
	}
	return b, true
}

// Apply balances a picture in place. Light beyond white is cut off.
func (b Balance) Apply(img *image.NRGBA) {
	var to [3][256]uint8
	for c := range to {
		for v := range to[c] {
			to[c][v] = uint8(math.Round(255 * srgbGamma(math.Min(1, b[c]*linearOf(float64(v)/255)))))
		}
	}
	for y := range img.Rect.Dy() {
		row := img.Pix[y*img.Stride:][:4*img.Rect.Dx()]
		for i := 0; i < len(row); i += 4 {
			row[i], row[i+1], row[i+2] = to[0][row[i]], to[1][row[i+1]], to[2][row[i+2]]
		}
	}
}
