package imaging

import "io"

// Ceilings on the metadata blocks taken out of a container. What is larger is left where it is.
const (
	maxEXIFBytes   = 1 << 20
	maxICCBytes    = 2 << 20 // profiles of presses come near 1 MB; a phone's has 548 bytes
	maxXMPBytes    = 512 << 10
	maxIPTCBytes   = 256 << 10
	maxEXIFBlocks  = 4
	maxSegments    = 1 << 16 // of one file
	maxJPEGScans   = 200     // a progressive picture of a phone or an editor has about ten
	maxInflateText = 1 << 20
)

// container is what a walk over one file's headers finds.
type container struct {
	widthPX, heightPX int // as stored, not turned; of HEIC: cropped as the file asks
	progressive       bool
	complete          bool     // of PNG, WebP and HEIC: the end lies inside the file
	exif              [][]byte // TIFF streams, not yet trusted
	icc               []byte
	xmp               []byte
	iptc              []byte
	trouble           *Refusal // why the picture cannot be taken, as far as headers tell

	// Of HEIC alone.
	orientation                     int         // EXIF 1–8: what irot and imir do to the stored pixels
	nclx                            *nclxColour // colours by code points; a profile, where there is one too, is more exact
	codedColour                     *nclxColour // by code points inside the coded picture; nclx, where it is said too, overrules them
	decodedWidthPX, decodedHeightPX int         // before cropping: what a decoder holds
	assembled                       bool        // from other pictures, as a grid is
	codedAt                         []fileRange // where the coded pictures lie
	tiles                           int         // coded pictures that the photo is put together from
	format                          string      // what the file is, where only its headers tell
}

func (c *container) addEXIF(b []byte) {
	if len(c.exif) < maxEXIFBlocks && len(b) > 0 && len(b) <= maxEXIFBytes {
		c.exif = append(c.exif, b)
	}
}

// walk reads the headers of a file of a known format. It always returns a container; what is wrong is its trouble.
func walk(format string, r io.ReaderAt, size int64) *container {
	c := newCursor(r, size)
	var out *container
	switch format {
	case FormatJPEG:
		out = walkJPEG(c)
	case FormatPNG:
		out = walkPNG(c)
	case FormatWebP:
		out = walkWebP(c)
	case FormatHEIC:
		out = walkHEIF(c)
	default:
		out = &container{trouble: refuse(CodeFormatUnsupported, nil, "format", format)}
	}
	if c.err != nil {
		out.trouble = refuse(CodeUnreadable, c.err)
	}
	return out
}

// tooLargePX is the refusal of a size above the ceilings, or nil.
func tooLargePX(w, h int) *Refusal {
	if w > MaxSidePX || h > MaxSidePX || int64(w)*int64(h) > MaxPixels {
		return refuse(CodeTooLargePX, nil, "width_px", w, "height_px", h, "max_mp", MaxPixels/1_000_000, "max_side_px", MaxSidePX)
	}
	return nil
}
