package drawing

import (
	"bytes"
	"flag"
	"image/png"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"
)

var update = flag.Bool("update", false, "write the icons of the program anew")

func TestTheIconsOfTheProgramAreAsTheyAreDrawn(t *testing.T) {
	for name, c := range map[string]struct {
		widthPX int
		full    bool
	}{"app-192.png": {192, false}, "app-512.png": {512, false}, "app-full-512.png": {512, true}} {
		var b bytes.Buffer
		if err := (&png.Encoder{CompressionLevel: png.BestCompression}).Encode(&b, AppIcon(c.widthPX, c.full)); err != nil {
			t.Fatal(err)
		}
		file := "../icons/" + name
		if *update {
			if err := os.WriteFile(file, b.Bytes(), 0o644); err != nil {
				t.Fatal(err)
			}
		}
		f, err := os.Open(file)
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close()
		kept, err := png.Decode(f)
		if err != nil {
			t.Fatal(err)
		}
		drawn := AppIcon(c.widthPX, c.full)
		if kept.Bounds() != drawn.Bounds() {
			t.Errorf("%s is %v", name, kept.Bounds())
			continue
		}
		for y := range c.widthPX {
			for x := range c.widthPX {
				a, b := kept.At(x, y), drawn.At(x, y)
				r, g, bl, al := a.RGBA()
				r2, g2, b2, a2 := b.RGBA()
				if r != r2 || g != g2 || bl != b2 || al != a2 {
					t.Fatalf("%s differs at %d, %d (go test ./web/drawing -update writes it anew)", name, x, y)
				}
			}
		}
		if b.Len() > 12<<10 {
			t.Errorf("%s has %d bytes", name, b.Len())
		}
	}
}

// What a phone may cut off, outside of the circle of 40 % of the side, is only ground (W3C Web Application Manifest, icon masks).
func TestTheMarkOfACutIconLiesInsideTheSafeCircle(t *testing.T) {
	img := AppIcon(512, true)
	inked := 0
	for y := range 512 {
		for x := range 512 {
			if img.ColorIndexAt(x, y) == 1 {
				continue
			}
			inked++
			if d := math.Hypot(float64(x)-255.5, float64(y)-255.5); d > 0.4*512 {
				t.Fatalf("ink at %d, %d, %.0f px from the middle", x, y, d)
			}
		}
	}
	if inked < 5000 {
		t.Errorf("%d pixels of ink", inked)
	}
}

func TestTheTuftIsThatOfTheMark(t *testing.T) {
	svg, err := os.ReadFile("../icons/mark.svg")
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range tuft {
		d := `d="M` + number(s[0]) + " " + number(s[1]) + "l" + number(s[2]-s[0]) + " " + number(s[3]-s[1]) + `"`
		if !strings.Contains(string(svg), d) {
			t.Errorf("mark.svg has no line %s", d)
		}
	}
}

func number(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }
