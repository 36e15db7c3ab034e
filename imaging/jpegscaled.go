package imaging

import (
	"context"
	"errors"
	"image"
	"io"
)

// errOtherJPEG says that a JPEG is not of the kind that scaledJPEG reads, or not sound: the general decoder is to be
// asked, and what it says holds.
var errOtherJPEG = errors.New("imaging: a JPEG for the general decoder")

// scaledJPEG decodes the JPEG that phones write (ITU-T T.81: sequential DCT, Huffman, 8 bit, one interleaved scan, grey
// or YCbCr at 4:4:4 to 4:2:0) at a half or a quarter of its size: of each block of 8 × 8 coefficients it takes the
// lowest 4 × 4 or 2 × 2 and transforms these, which is a low-pass filter and a reduction in one. shift 1 is a half, 2 a
// quarter; sizes are rounded up. shift 0 decodes every symbol and keeps nothing: the answer is nil, and the file was
// sound. It never holds the picture at full size.
//
// Errors: errOtherJPEG, the context's, or a *Refusal of the reader's own trouble.
func scaledJPEG(ctx context.Context, r io.ReaderAt, size int64, shift uint) (*image.YCbCr, error) {
	in := &tracked{ctx: ctx, r: io.NewSectionReader(r, 0, size)}
	d := &scaledDecoder{bits: bitReader{r: in, buf: make([]byte, bitBuffer)}, shift: shift}
	img, err := d.decode()
	if in.err != nil {
		return nil, in.err
	}
	return img, err
}

// jpegComponent is one plane of the frame (T.81, B.2.2).
type jpegComponent struct {
	id     byte
	h, v   int
	quant  byte
	dc, ac *huffTable
	pred   int32 // DC predictor

	pix    []byte
	stride int
	dequan [64]int32 // by zigzag position
}

type scaledDecoder struct {
	bits  bitReader
	shift uint

	width, height int
	comps         []jpegComponent
	quant         [4][64]int32
	hasQuant      [4]bool
	huff          [2][4]*huffTable
	restart       int
	jfif          bool
	adobe         int // transform flag of APP14, -1: none
}

func (d *scaledDecoder) decode() (*image.YCbCr, error) {
	d.adobe = -1
	if m, err := d.bits.u16(); err != nil || m != 0xffd8 {
		return nil, errOtherJPEG
	}
	for {
		m, err := d.bits.marker()
		if err != nil {
			return nil, err
		}
		if m >= 0xd0 && m <= 0xd9 || m <= 0x01 {
			return nil, errOtherJPEG
		}
		n, err := d.bits.u16()
		if err != nil || n < 2 {
			return nil, errOtherJPEG
		}
		n -= 2
		var known func([]byte) bool
		switch {
		case m == 0xc0 || m == 0xc1:
			known = d.frame
		case m == 0xc4:
			known = d.huffTables
		case m == 0xda:
			known = d.scanHeader
		case m == 0xdb:
			known = d.quantTables
		case m == 0xdd:
			known = func(b []byte) bool {
				if len(b) == 2 {
					d.restart = int(b[0])<<8 | int(b[1])
				}
				return len(b) == 2
			}
		case m == 0xe0:
			known = func(b []byte) bool { d.jfif = len(b) >= 5 && string(b[:5]) == "JFIF\x00"; return true }
		case m == 0xee:
			known = func(b []byte) bool {
				if len(b) >= 12 && string(b[:5]) == "Adobe" {
					d.adobe = int(b[11])
				}
				return true
			}
		case m > 0xe0 && m <= 0xef || m == 0xfe:
			if err := d.bits.discard(n); err != nil {
				return nil, err
			}
			continue
		default: // progressive, arithmetic, hierarchical, lossless
			return nil, errOtherJPEG
		}
		b, err := d.bits.take(n)
		if err != nil {
			return nil, err
		}
		if !known(b) {
			return nil, errOtherJPEG
		}
		if m == 0xda {
			return d.scan()
		}
	}
}

// frame reads the frame header (T.81, B.2.2). Of subsampling it takes what phones and editors write: luma once or twice
// as dense as both chroma planes in either direction.
func (d *scaledDecoder) frame(b []byte) bool {
	if d.comps != nil || len(b) < 6 || b[0] != 8 {
		return false
	}
	d.height, d.width = int(b[1])<<8|int(b[2]), int(b[3])<<8|int(b[4])
	n := int(b[5])
	if n != 1 && n != 3 || len(b) != 6+3*n || d.width == 0 || d.height == 0 || tooLargePX(d.width, d.height) != nil {
		return false
	}
	d.comps = make([]jpegComponent, n)
	for i := range d.comps {
		s := b[6+3*i:]
		c := &d.comps[i]
		c.id, c.h, c.v, c.quant = s[0], int(s[1]>>4), int(s[1]&15), s[2]
		if c.quant > 3 || c.h < 1 || c.v < 1 || c.h > 2 || c.v > 2 || i > 0 && (c.h != 1 || c.v != 1) {
			return false
		}
		for j := range i {
			if d.comps[j].id == c.id {
				return false
			}
		}
	}
	if n == 1 {
		d.comps[0].h, d.comps[0].v = 1, 1 // T.81, A.2.2: a single plane is not interleaved
	}
	return true
}

func (d *scaledDecoder) quantTables(b []byte) bool {
	for len(b) > 0 {
		p, t := b[0]>>4, b[0]&15
		b = b[1:]
		wide := 1 + int(p)
		if p > 1 || t > 3 || len(b) < 64*wide {
			return false
		}
		for i := range 64 {
			if wide == 2 {
				d.quant[t][i] = int32(b[2*i])<<8 | int32(b[2*i+1])
			} else {
				d.quant[t][i] = int32(b[i])
			}
		}
		d.hasQuant[t] = true
		b = b[64*wide:]
	}
	return true
}

func (d *scaledDecoder) huffTables(b []byte) bool {
	for len(b) > 0 {
		if len(b) < 17 {
			return false
		}
		class, slot := b[0]>>4, b[0]&15
		total := 0
		for _, n := range b[1:17] {
			total += int(n)
		}
		if class > 1 || slot > 3 || total == 0 || total > 256 || len(b) < 17+total {
			return false
		}
		t := newHuffTable([16]byte(b[1:17]), b[17:17+total], class == 1)
		if t == nil {
			return false
		}
		d.huff[class][slot] = t
		b = b[17+total:]
	}
	return true
}

// scanHeader reads the scan header (T.81, B.2.3); only a scan of all planes will do.
func (d *scaledDecoder) scanHeader(b []byte) bool {
	n := len(d.comps)
	if n == 0 || len(b) != 4+2*n || int(b[0]) != n {
		return false
	}
	if n == 3 && !d.jfif && (d.adobe == 0 || d.comps[0].id == 'R' && d.comps[1].id == 'G' && d.comps[2].id == 'B') {
		return false // RGB, not YCbCr
	}
	for i := range d.comps {
		c := &d.comps[i]
		id, dc, ac := b[1+2*i], b[2+2*i]>>4, b[2+2*i]&15
		if id != c.id || dc > 3 || ac > 3 || !d.hasQuant[c.quant] {
			return false
		}
		c.dc, c.ac = d.huff[0][dc], d.huff[1][ac]
		if c.dc == nil || c.ac == nil {
			return false
		}
		c.dequan = d.quant[c.quant]
	}
	return true
}

// scan decodes the entropy-coded data, MCU by MCU (T.81, A.2.3, F.2), into planes of whole MCUs.
func (d *scaledDecoder) scan() (*image.YCbCr, error) {
	h, v := d.comps[0].h, d.comps[0].v
	wide, tall := (d.width+8*h-1)/(8*h), (d.height+8*v-1)/(8*v)
	side := 8 >> d.shift
	keep := d.shift > 0
	if keep {
		for i := range d.comps {
			c := &d.comps[i]
			c.stride = wide * c.h * side
			c.pix = make([]byte, c.stride*tall*c.v*side)
		}
	}
	var block [32]int32
	left, expect := d.restart, byte(0xd0)
	for my := range tall {
		for mx := range wide {
			if d.restart > 0 {
				if left == 0 {
					if err := d.bits.restart(expect); err != nil {
						return nil, err
					}
					for i := range d.comps {
						d.comps[i].pred = 0
					}
					left, expect = d.restart, 0xd0|(expect+1)&7
				}
				left--
			}
			for i := range d.comps {
				c := &d.comps[i]
				for by := range c.v {
					for bx := range c.h {
						if !keep {
							if _, err := d.bits.block(c, nil, 0); err != nil {
								return nil, err
							}
							continue
						}
						at := (my*c.v+by)*side*c.stride + (mx*c.h+bx)*side
						var flat bool
						var err error
						if d.shift == 1 {
							if flat, err = d.bits.block(c, &block, lastOf4); err == nil {
								idct4(&block, c.pix[at:], c.stride, flat)
							}
						} else {
							if flat, err = d.bits.block(c, &block, lastOf2); err == nil {
								idct2(&block, c.pix[at:], c.stride, flat)
							}
						}
						if err != nil {
							return nil, err
						}
					}
				}
			}
		}
	}
	if !d.bits.ended() {
		return nil, errOtherJPEG // another scan follows
	}
	if !keep {
		return nil, nil
	}
	return d.picture(), nil
}

func (d *scaledDecoder) picture() *image.YCbCr {
	up := 1<<d.shift - 1
	out := &image.YCbCr{
		Rect: image.Rect(0, 0, (d.width+up)>>d.shift, (d.height+up)>>d.shift),
		Y:    d.comps[0].pix, YStride: d.comps[0].stride,
	}
	if len(d.comps) == 1 {
		out.SubsampleRatio = image.YCbCrSubsampleRatio420
		out.CStride = (out.Rect.Dx() + 1) / 2
		grey := make([]byte, out.CStride*((out.Rect.Dy()+1)/2))
		for i := range grey {
			grey[i] = 128
		}
		out.Cb, out.Cr = grey, grey
		return out
	}
	out.Cb, out.Cr, out.CStride = d.comps[1].pix, d.comps[2].pix, d.comps[1].stride
	out.SubsampleRatio = [2][2]image.YCbCrSubsampleRatio{
		{image.YCbCrSubsampleRatio444, image.YCbCrSubsampleRatio440},
		{image.YCbCrSubsampleRatio422, image.YCbCrSubsampleRatio420},
	}[d.comps[0].h-1][d.comps[0].v-1]
	return out
}
