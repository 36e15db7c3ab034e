package marker

import (
	"bytes"
	"encoding/binary"
	"image"
	"image/draw"
	"image/png"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"thatch/timeline/outside"
)

var testLabels = Labels{
	Title: "Table marker", Steps: []string{"Print at 100 %, then hold a ruler to the line below.", strings.Repeat("A step that is longer than a line. ", 5)},
	Name: "Ždárek", Foot: "into the block", Ruler: "100 mm",
}

func TestEverySizeFitsOnEverySheetAndHasItsMeasure(t *testing.T) {
	for _, paper := range []Paper{A4, Letter} {
		for size := MinSizeMM; size <= MaxSizeMM; size++ {
			s, err := newSheet(Text{Dog: "7h2k9m4qx0abcdef", SizeMM: size}, paper, testLabels)
			if err != nil {
				t.Fatalf("%v, %d mm: %v", paper, size, err)
			}
			if s.place.w != float64(size) || s.place.h != float64(size) {
				t.Errorf("%v, %d mm: %v", paper, size, s.place)
			}
			// What printers leave white on every side: common practice, no source.
			const edge = 5.0
			for _, r := range s.rects {
				if r.x < edge || r.y < edge || r.x+r.w > paper.WidthMM-edge || r.y+r.h > paper.HeightMM-edge {
					t.Errorf("%v, %d mm: %v is off the sheet", paper, size, r)
				}
			}
			for _, l := range s.texts {
				if l.x < edge || l.y-l.size < edge || l.x+widthMM(l.text, l.size) > paper.WidthMM-edge || l.y > paper.HeightMM-edge {
					t.Errorf("%v, %d mm: %q is off the sheet", paper, size, l.text)
				}
			}
			left, right := math.Inf(1), 0.0
			for _, r := range s.rects {
				if r.h == 3.5 {
					left, right = min(left, r.x), max(right, r.x+r.w)
				}
			}
			if math.Abs(right-left-100) > 1e-9 {
				t.Errorf("%v, %d mm: the ruler is %v mm", paper, size, right-left)
			}
		}
	}
}

func TestWhatCannotBeDrawnIsRefused(t *testing.T) {
	for _, text := range []Text{{SizeMM: MinSizeMM - 1}, {SizeMM: MaxSizeMM + 1}, {SizeMM: 0}, {Dog: "Wisp", SizeMM: 80}, {Dog: "a b", SizeMM: 80}, {Dog: "abcdefghijklmnopqr", SizeMM: 80}} {
		var b bytes.Buffer
		if err := WritePDF(&b, text, A4, testLabels); err == nil || b.Len() > 0 {
			t.Errorf("%v: %v, %d bytes", text, err, b.Len())
		}
	}
	labels := testLabels
	labels.Steps = []string{strings.Repeat("Much too much is said about this. ", 60)}
	if err := WritePNG(&bytes.Buffer{}, Text{SizeMM: MaxSizeMM}, Letter, labels); err == nil {
		t.Error("a card that does not fit is drawn")
	}
}

// The density is of PNG, third edition, 11.3.4.3: 300 dots an inch are 11,811 a metre.
func TestThePictureSaysHowLargeItIs(t *testing.T) {
	var b bytes.Buffer
	if err := WritePNG(&b, Text{SizeMM: 80}, A4, testLabels); err != nil {
		t.Fatal(err)
	}
	i := bytes.Index(b.Bytes(), []byte("pHYs"))
	if i != 8+25+4 || binary.BigEndian.Uint32(b.Bytes()[i+4:]) != 11811 || binary.BigEndian.Uint32(b.Bytes()[i+8:]) != 11811 || b.Bytes()[i+12] != 1 {
		t.Errorf("pHYs at %d: % x", i, b.Bytes()[i:i+13])
	}
	img, err := png.Decode(&b)
	if err != nil || img.Bounds() != image.Rect(0, 0, 2480, 3508) {
		t.Errorf("%v, %v", img.Bounds(), err)
	}
}

func TestTheSameMarkerIsTheSameFile(t *testing.T) {
	for name, write := range map[string]func() ([]byte, error){
		"PDF": func() ([]byte, error) {
			var b bytes.Buffer
			err := WritePDF(&b, Text{Dog: "7h2k9m4qx0abcdef", SizeMM: 80}, A4, testLabels)
			return b.Bytes(), err
		},
		"PNG": func() ([]byte, error) {
			var b bytes.Buffer
			err := WritePNG(&b, Text{Dog: "7h2k9m4qx0abcdef", SizeMM: 80}, A4, testLabels)
			return b.Bytes(), err
		},
	} {
		a, err := write()
		if err != nil {
			t.Fatal(err)
		}
		if b, err := write(); err != nil || !bytes.Equal(a, b) {
			t.Errorf("%s differs from run to run (%v)", name, err)
		}
	}
}

// Read by a reader that is not ours, ZBar (X): the symbol keeps to ISO/IEC 18004, and says what we meant.
func TestAnotherReaderReadsTheSameText(t *testing.T) {
	zbar := outside.Tool(t, "zbarimg", "zbar-tools")
	for _, text := range []Text{{Dog: "7h2k9m4qx0abcdef", SizeMM: 80}, {SizeMM: 25}, {Dog: "0000000000000000", SizeMM: 120}, {Dog: "zzzzzzzzzzzzzzzzz", SizeMM: 100}} {
		var b bytes.Buffer
		if err := WritePNG(&b, text, A4, testLabels); err != nil {
			t.Fatal(err)
		}
		name := filepath.Join(t.TempDir(), "sheet.png")
		if err := os.WriteFile(name, b.Bytes(), 0o600); err != nil {
			t.Fatal(err)
		}
		out, err := exec.Command(zbar, "--quiet", "--raw", "-Sdisable", "-Sqrcode.enable", name).Output()
		if err != nil || strings.TrimSpace(string(out)) != text.String() {
			t.Errorf("%q, want %q: %v", out, text, err)
		}
	}
}

// The PDF as Poppler (X) draws it at 300 dots an inch: the sheet's size, the symbol's side, the ruler's length.
func TestThePDFIsOfTrueSize(t *testing.T) {
	draws, info := outside.Tool(t, "pdftoppm", "poppler-utils"), outside.Tool(t, "pdfinfo", "poppler-utils")
	for _, c := range []struct {
		paper Paper
		want  string
		size  int
	}{{A4, "595.28 x 841.89", 80}, {Letter, "612 x 792", 120}} {
		var b bytes.Buffer
		if err := WritePDF(&b, Text{Dog: "7h2k9m4qx0abcdef", SizeMM: c.size}, c.paper, testLabels); err != nil {
			t.Fatal(err)
		}
		if !bytes.Contains(b.Bytes(), []byte("/PrintScaling /None")) {
			t.Error("viewers are not asked to keep the size")
		}
		dir := t.TempDir()
		name := filepath.Join(dir, "sheet.pdf")
		if err := os.WriteFile(name, b.Bytes(), 0o600); err != nil {
			t.Fatal(err)
		}
		out, err := exec.Command(info, name).CombinedOutput()
		if m := regexp.MustCompile(`Page size: +([0-9.]+ x [0-9.]+)`).FindSubmatch(out); err != nil || m == nil || string(m[1]) != c.want || strings.Contains(string(out), "rror") {
			t.Errorf("%v\n%s", err, out)
		}
		// The table of the file's objects was moved by hand: a reader that rebuilds it would complain.
		if out, err := exec.Command(draws, "-r", "300", "-png", "-gray", "-singlefile", name, filepath.Join(dir, "sheet")).CombinedOutput(); err != nil || len(out) > 0 {
			t.Fatalf("%v: %s", err, out)
		}
		f, err := os.Open(filepath.Join(dir, "sheet.png"))
		if err != nil {
			t.Fatal(err)
		}
		drawn, err := png.Decode(f)
		f.Close()
		if err != nil {
			t.Fatal(err)
		}
		img := image.NewNRGBA(drawn.Bounds())
		draw.Draw(img, img.Rect, drawn, image.Point{}, draw.Src)
		m := Find(img, Options{}).Marker
		if m == nil || m.Text.SizeMM != c.size {
			t.Fatalf("%+v", m)
		}
		// 25.4/300 mm a dot (E, the inch); Poppler rounds edges to dots.
		if e := m.MMPerPX/(25.4/300) - 1; math.Abs(e) > 0.0005 {
			t.Errorf("%v mm: off by %.3f %%", c.size, 100*e)
		}
		if n := ruled(drawn); math.Abs(float64(n)-100/25.4*300) > 1.5 {
			t.Errorf("the ruler is %d dots long, want %s", n, strconv.FormatFloat(100/25.4*300, 'f', 1, 64))
		}
	}
}

// ruled is the longest dark run from the left margin in the lowest tenth of a sheet.
func ruled(img image.Image) (most int) {
	b := img.Bounds()
	for y := b.Max.Y - b.Dy()/10; y < b.Max.Y; y++ {
		run := 0
		for x := b.Min.X; x < b.Max.X; x++ {
			if r, _, _, _ := img.At(x, y).RGBA(); r < 0xa000 {
				run++
				continue
			}
			if from := float64(x - run - b.Min.X); math.Abs(from-marginMM/25.4*300) < 3 {
				most = max(most, run)
			}
			run = 0
		}
	}
	return most
}
