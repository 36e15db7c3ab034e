package salon

import (
	"bytes"
	"image"
	"image/color"
	"image/draw"
	"image/png"
	"math/rand/v2"
	"testing"

	qr "github.com/piglig/go-qr"

	"thatch/imaging"
	"thatch/imaging/align/marker"
	"thatch/timeline"
)

// Sheets in the test's photos are shrunk to this height; a sheet is 297 mm high, drawn at 300 dots an inch.
const (
	sheetHighPX  = 900
	sheetMMPerPX = 297.0 / sheetHighPX
)

// sheetOf is the printed marker of a dog as a photo shows it from straight in front; "" is the salon's own.
func sheetOf(t testing.TB, dog timeline.ID) image.Image {
	t.Helper()
	var b bytes.Buffer
	ok(marker.WritePNG(&b, marker.Text{Dog: dog, SizeMM: marker.DefaultSizeMM}, marker.A4, marker.Labels{Name: "Test"}))
	full := must(png.Decode(&b))
	img := image.NewNRGBA(full.Bounds())
	draw.Draw(img, img.Rect, full, image.Point{}, draw.Src)
	return imaging.Resize(img, sheetHighPX)
}

// stranger is somebody else's symbol with white around it.
func stranger(t testing.TB) image.Image {
	t.Helper()
	code := must(qr.EncodeText("https://example.org/", qr.Low))
	const module = 8
	side := (code.Size() + 8) * module
	img := image.NewGray(image.Rect(0, 0, side, side))
	for y := range side {
		for x := range side {
			mx, my := x/module-4, y/module-4
			in := mx >= 0 && my >= 0 && mx < code.Size() && my < code.Size()
			if !in || !code.Module(mx, my) {
				img.SetGray(x, y, color.Gray{Y: 235})
			}
		}
	}
	return img
}

// room is a photo of a wall with what hangs on it, side by side.
func room(t testing.TB, seed uint64, local string, things ...image.Image) []byte {
	t.Helper()
	rng := rand.New(rand.NewPCG(seed, 2))
	img := image.NewNRGBA(image.Rect(0, 0, 1600, 1200))
	for i := 0; i < len(img.Pix); i += 4 {
		v := uint8(140 + rng.UintN(12))
		img.Pix[i], img.Pix[i+1], img.Pix[i+2], img.Pix[i+3] = v, v, v, 255
	}
	x := 60
	for _, one := range things {
		b := one.Bounds()
		draw.Draw(img, image.Rect(x, 120, x+b.Dx(), 120+b.Dy()), one, b.Min, draw.Src)
		x += b.Dx() + 60
	}
	var b bytes.Buffer
	ok(imaging.EncodeJPEG(&b, img, 88))
	return must(imaging.InsertEXIF(b.Bytes(), imaging.EXIFFields{TakenLocal: wall(local), Make: "Test", Model: "One"}))
}

// work does all the queued work and returns how many pieces of each kind it was.
func work(t testing.TB, s *Salon) map[string]int {
	t.Helper()
	done := map[string]int{}
	for {
		job := must(s.st.ClaimJob(ctx, s.Now()))
		if job == nil {
			return done
		}
		if err := s.RunJob(ctx, *job); err != nil {
			t.Fatalf("%s: %v", job.Kind, err)
		}
		ok(s.st.FinishJob(ctx, job.ID))
		done[job.Kind]++
	}
}

func lookAt(t testing.TB, s *Salon, sha string) timeline.MarkerLook {
	t.Helper()
	o := must(s.st.Original(ctx, sha))
	if o.Marker == nil {
		t.Fatal("nobody has looked")
	}
	return *o.Marker
}
