package phantom

import (
	"image"
	"image/draw"
	"image/png"
	"os"
	"testing"
)

func TestLook(t *testing.T) {
	dir := os.Getenv("PHANTOM_LOOK")
	if dir == "" {
		t.Skip("no folder to look into")
	}
	save := func(name string, img image.Image) {
		f, _ := os.Create(dir + "/" + name)
		png.Encode(f, img)
		f.Close()
	}
	d := Dog{Seed: 1, WithersMM: 380}
	c := Frame(d, 1344, 1008)
	img, _ := Render(d, RingReady(18), Pose{}, c, Scene{})
	save("ring.png", img)
	img, _ = Render(d, Overgrown(45), Pose{}, c, Scene{})
	save("over.png", img)
	sheet := image.NewNRGBA(image.Rect(0, 0, 1600, 1200))
	for i, col := range []Colour{White, Grizzle, BlackAndTan, RedWheaten} {
		d := Dog{Seed: int64(i + 5), WithersMM: 340, Colour: col}
		p := Pose{}
		if i%2 == 1 {
			p.Facing = "right"
		}
		coat := RingReady(18)
		if i > 1 {
			coat = Overgrown(35)
		}
		img, _ := Render(d, coat, p, Frame(d, 800, 600), Rooms()[i])
		draw.Draw(sheet, image.Rect(i%2*800, i/2*600, i%2*800+800, i/2*600+600), img, image.Point{}, draw.Src)
	}
	save("sheet.png", sheet)
}

func BenchmarkRender(b *testing.B) {
	d := Dog{Seed: 1}
	c := Frame(d, 2016, 1512)
	for b.Loop() {
		Render(d, Overgrown(45), Pose{}, c, Scene{})
	}
}
