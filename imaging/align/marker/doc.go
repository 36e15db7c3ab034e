// Package marker is the table marker: a printed card with a QR symbol (ISO/IEC 18004) of known size that stands upright on
// the line of the paws. It draws the card, finds it in a photo, and reads from it the scale in mm per px with a standard
// error, how it is tilted, what is white in that light, and whose dog it is.
//
// A symbol is one of ours only if its text is ours and its modules are those that we would have drawn for that text.
// What is foreign, bent, partly hidden, too tilted, too small, or there more than once is told and gives no scale.
//
// The package owns pixels and geometry. It opens no file, decodes no photo and keeps no clock. The library of symbols is
// imported in qr.go only, the one of PDF in pdf.go.
package marker

import "thatch/timeline"

// XY is a place in px of the upright photo; the centre of the top left pixel is (0, 0).
type XY = timeline.XY
