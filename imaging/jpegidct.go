package imaging

// The inverse DCT of the lowest N × N of 8 × 8 coefficients (T.81, A.3.3, for N in place of 8): with the coefficients
// scaled by N/8 it gives the block reduced to N × N pixels. Coefficients of a
// damaged file may run over 32 bits; they wrap, which only costs pixels that are wrong anyway.

// Last zigzag positions (T.81, figure A.6) with a coefficient of the lowest 4 × 4 and 2 × 2.
const (
	lastOf4 = 24
	lastOf2 = 4
)

// placeOf4 is where the coefficient at a zigzag position goes among the lowest 4 × 4, by rows; 16: nowhere.
var placeOf4 = func() (p [64]uint8) {
	x, y := 0, 0
	for k := range p {
		p[k] = 16
		if x < 4 && y < 4 {
			p[k] = uint8(4*y + x)
		}
		switch up := (x+y)%2 == 0; {
		case up && x == 7, !up && y != 7 && x == 0:
			y++
		case up && y == 0, !up && y == 7:
			x++
		case up:
			x, y = x+1, y-1
		default:
			x, y = x-1, y+1
		}
	}
	return p
}()

// √2·cos(π/8) and √2·cos(3π/8), times 2^13.
const (
	cos1 = 10703
	cos3 = 4433
)

func clampByte(v int32) byte {
	if uint32(v) > 255 {
		if v < 0 {
			return 0
		}
		return 255
	}
	return byte(v)
}

func idct4(b *[32]int32, out []byte, stride int, flat bool) {
	if flat {
		v := clampByte((b[0]+4)>>3 + 128)
		for y := range 4 {
			row := out[y*stride : y*stride+4 : y*stride+4]
			row[0], row[1], row[2], row[3] = v, v, v, v
		}
		return
	}
	var t [16]int32
	for x := range 4 {
		x0, x1, x2, x3 := b[x], b[x+4], b[x+8], b[x+12]
		e0, e1 := (x0+x2)<<2, (x0-x2)<<2
		o0, o1 := (x1*cos1+x3*cos3+1<<10)>>11, (x1*cos3-x3*cos1+1<<10)>>11
		t[x], t[x+4], t[x+8], t[x+12] = e0+o0, e1+o1, e1-o1, e0-o0
	}
	const half = 1<<17 + 128<<18
	for y := range 4 {
		x0, x1, x2, x3 := t[4*y], t[4*y+1], t[4*y+2], t[4*y+3]
		e0, e1 := (x0+x2)<<13+half, (x0-x2)<<13+half
		o0, o1 := x1*cos1+x3*cos3, x1*cos3-x3*cos1
		row := out[y*stride : y*stride+4 : y*stride+4]
		row[0], row[1], row[2], row[3] = clampByte((e0+o0)>>18), clampByte((e1+o1)>>18), clampByte((e1-o1)>>18), clampByte((e0-o0)>>18)
	}
}

func idct2(b *[32]int32, out []byte, stride int, flat bool) {
	x00, x01, x10, x11 := b[0], b[1], b[4], b[5]
	const half = 4 + 128<<3
	s, d := x00+x10+half, x00-x10+half
	out[0], out[1] = clampByte((s+x01+x11)>>3), clampByte((s-x01-x11)>>3)
	out[stride], out[stride+1] = clampByte((d+x01-x11)>>3), clampByte((d-x01+x11)>>3)
}
