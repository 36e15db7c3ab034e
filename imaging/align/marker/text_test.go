package marker

import (
	"testing"

	"thatch/timeline"
)

func dogID(b []byte) timeline.ID { return timeline.ID(b) }

func TestWhatASymbolSays(t *testing.T) {
	for _, c := range []struct {
		name string
		text string
		kin  Kinship
		want Text
	}{
		{"a dog's", "THATCH1 7H2K9M4QX0ABCDEF 80", Ours, Text{"7h2k9m4qx0abcdef", 80}},
		{"the salon's", "THATCH1 - 100", Ours, Text{"", 100}},
		{"a later version", "THATCH2 ANYTHING", Newer, Text{}},
		{"a much later version", "THATCH12 X", Newer, Text{}},
		{"nothing", "", Foreign, Text{}},
		{"an address", "https://example.org", Foreign, Text{}},
		{"lower case", "thatch1 7h2k9m4qx0abcdef 80", Foreign, Text{}},
		{"an ID in lower case", "THATCH1 7h2k9m4qx0abcdef 80", Foreign, Text{}},
		{"no size", "THATCH1 7H2K9M4QX0ABCDEF", Foreign, Text{}},
		{"no ID", "THATCH1  80", Foreign, Text{}},
		{"a size with a zero before it", "THATCH1 A 080", Foreign, Text{}},
		{"a size with a sign", "THATCH1 A +80", Foreign, Text{}},
		{"a size with a fraction", "THATCH1 A 80.5", Foreign, Text{}},
		{"a size below the least", "THATCH1 A 24", Foreign, Text{}},
		{"a size above the most", "THATCH1 A 121", Foreign, Text{}},
		{"two spaces", "THATCH1 A  80", Foreign, Text{}},
		{"something behind it", "THATCH1 A 80 ", Foreign, Text{}},
		{"a line's end", "THATCH1 A 80\n", Foreign, Text{}},
		{"an ID that is too long", "THATCH1 ABCDEFGHIJKLMNOPQR 80", Foreign, Text{}},
		{"an ID with a sign", "THATCH1 A/B 80", Foreign, Text{}},
		{"version nought", "THATCH0 A 80", Foreign, Text{}},
		{"a version with a zero before it", "THATCH01 A 80", Foreign, Text{}},
		{"a version without an end", "THATCH2", Foreign, Text{}},
	} {
		if got, kin := ParseText(c.text); got != c.want || kin != c.kin {
			t.Errorf("%s: %v %v", c.name, got, kin)
		}
	}
}

func FuzzParseText(f *testing.F) {
	for _, s := range []string{"THATCH1 7H2K9M4QX0ABCDEF 80", "THATCH1 - 25", "THATCH2 X", "THATCH1 A 080", "", "THATCH1 İ 80"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		got, kin := ParseText(s)
		if kin == Ours && (got.String() != s || got.Check() != nil) {
			t.Errorf("%q is read as %q", s, got)
		}
		if kin != Ours && got != (Text{}) {
			t.Errorf("%q: %v of a stranger's", s, got)
		}
		if kin == Ours {
			g, err := encode(got)
			if err != nil {
				t.Fatalf("%q cannot be drawn: %v", s, err)
			}
			if text, _, err := decode(g); err != nil || text != s {
				t.Errorf("%q is decoded as %q, %v", s, text, err)
			}
		}
	})
}

// Any bits in the data of a symbol come back as a text or an error.
func FuzzDecode(f *testing.F) {
	g, err := encode(Text{"7h2k9m4qx0abcdef", 80})
	if err != nil {
		f.Fatal(err)
	}
	bits := make([]byte, dim*dim/8+1)
	for y := range g {
		for x, d := range g[y] {
			if d {
				bits[(y*dim+x)/8] |= 1 << ((y*dim + x) % 8)
			}
		}
	}
	f.Add(bits, uint8(dim))
	f.Add([]byte{}, uint8(21))
	f.Fuzz(func(t *testing.T, bits []byte, n uint8) {
		size := 17 + 4*(1+int(n)%15)
		g := newGrid(size)
		for i := range size * size {
			if i/8 < len(bits) {
				g[i/size][i%size] = bits[i/8]>>(i%8)&1 == 1
			}
		}
		known := newPattern(size).finders()
		for y := range size {
			for x := range size {
				if k := known.get(x, y); k != unknown {
					g[y][x] = k == dark
				}
			}
		}
		_, _, _ = decode(g)
	})
}
