// Package imaging is the trusted door for photographs: it turns bytes of unknown origin into facts and upright sRGB
// pixels, or into a Refusal that says why not.
//
// It owns sniffing, the ceilings on size, the guard in front of the EXIF reader, the order in which dates are believed,
// turning upright, colour and the derivatives. It refuses everything it has not measured first: no pixel is decoded
// before the header's size is known, no EXIF block reaches a reader before its directories are walked, no decoder is
// chosen by a registry. It keeps no clock and no zone of its own; the present and the salon's zone are passed in.
package imaging

// Ceilings on what is taken in. Phones of today stay well below them; a file above is a mistake or an attack.
const (
	MaxBytes  = 40 << 20   // of a file
	MaxPixels = 52_000_000 // 48 MP sensors, with room
	MaxSidePX = 12_000
)

// MakerVersion is the version of the derivatives' maker: a derivative carries it and is made again when it rises.
const MakerVersion = 2
