package phantom

import (
	"image"
	"image/color"
	"math"
	"slices"
	"testing"

	"thatch/timeline"
)

// Kind A: the same picture with and without lead or hand, compared along the outline.
func TestALeadOrHandLiesAcrossTheZonesItIsSaidToCross(t *testing.T) {
	for seed := range int64(8) {
		d, coat, p, cam := random(60+seed, 1344, 1008)
		if seed%2 == 0 {
			p.YawDeg, cam.DistanceMM = 8, 2300
		}
		cam.NoiseSD = 0
		for _, s := range []Scene{{Lead: true}, {Hand: HandTail}, {Hand: HandChin}, {Lead: true, Hand: HandTail}} {
			room := Rooms()[1]
			bare, tr := Render(d, coat, p, cam, room)
			if len(tr.Crossed) != 0 {
				t.Fatalf("an empty room crosses %v", tr.Crossed)
			}
			room.Lead, room.Hand = s.Lead, s.Hand
			img, tr := Render(d, coat, p, cam, room)
			changed, all := map[timeline.Zone]float64{}, map[timeline.Zone]float64{}
			for i, q := range tr.Outline {
				x, y := int(q.X+0.5), int(q.Y+0.5)
				if !(image.Point{X: x, Y: y}).In(img.Rect) {
					continue
				}
				z := tr.OutlineZones[i]
				all[z]++
				a, b := bare.NRGBAAt(x, y), img.NRGBAAt(x, y)
				if math.Abs(float64(a.R)-float64(b.R))+math.Abs(float64(a.G)-float64(b.G))+math.Abs(float64(a.B)-float64(b.B)) > 24 {
					changed[z]++
				}
			}
			for _, z := range timeline.Zones() {
				if !z.InOutline() || all[z] == 0 {
					continue
				}
				share := changed[z] / all[z]
				if _, said := tr.Crossed[z]; said && share < 0.005 || !said && share > 0 {
					t.Errorf("dog %d, lead %v, hand %q: %.3f of the %s is covered, said to be crossed: %v", seed, s.Lead, s.Hand, share, z, said)
				}
			}
		}
	}
}

func TestWhatStandsAboutLeavesTheDogAlone(t *testing.T) {
	d, coat, p, cam := random(7, 800, 600)
	bare, to := Render(d, coat, p, cam, Rooms()[0])
	for name, change := range map[string]func(*Scene){
		"clutter": func(s *Scene) { s.Clutter = 5 }, "towel": func(s *Scene) { s.Towel = true }, "table end": func(s *Scene) { s.TableEnd = true },
		"shadow": func(s *Scene) { s.Shadow = 1 }, "lead": func(s *Scene) { s.Lead = true }, "hand on the tail": func(s *Scene) { s.Hand = HandTail },
		"hand at the chin": func(s *Scene) { s.Hand = HandChin },
	} {
		s := Rooms()[0]
		change(&s)
		img, tr := Render(d, coat, p, cam, s)
		if !slices.Equal(tr.Outline, to.Outline) || !slices.Equal(tr.Mask.Pix, to.Mask.Pix) {
			t.Errorf("%s: the truth moves", name)
		}
		same, dog, differ := 0, 0, 0
		for i, m := range tr.Mask.Pix {
			eq := slices.Equal(img.Pix[4*i:4*i+3], bare.Pix[4*i:4*i+3])
			if !eq {
				differ++
			}
			// Well inside, where no strand lets the room through.
			if m == 255 && slices.Equal(tr.Mask.Pix[max(0, i-12):min(len(tr.Mask.Pix), i+12)], slices.Repeat([]uint8{255}, min(len(tr.Mask.Pix), i+12)-max(0, i-12))) {
				dog++
				if eq {
					same++
				}
			}
		}
		if differ < 500 {
			t.Errorf("%s: nothing to be seen of it (%d pixels)", name, differ)
		}
		if float64(same) < 0.9*float64(dog) {
			t.Errorf("%s: %d of %d pixels of the dog are others", name, dog-same, dog)
		}
	}
}

// Kind A: a board of two colours; its corners by the textbook's pinhole without the dog's turn, its middle line by the
// projection of its own points.
func TestABoardStandsWhereAPinholeSeesIt(t *testing.T) {
	half := image.NewNRGBA(image.Rect(0, 0, 60, 40))
	for i := range 60 * 40 {
		c := color.NRGBA{20, 20, 20, 255}
		if i%60 >= 30 {
			c = color.NRGBA{235, 235, 235, 255}
		}
		half.SetNRGBA(i%60, i/60, c)
	}
	for seed := range int64(4) {
		d, coat, p, cam := random(80+seed, 1600, 1200)
		p.YawDeg, cam.DistanceMM, cam.NoiseSD, cam.Exposure = -9, 2200, 0, 0
		cam.MMPerPX *= 1.4
		b := Board{Image: half, WidthMM: 90, HeightMM: 60, XMM: 1.35 * d.WithersMM, YMM: 12, ZMM: -30 + 20*float64(seed), YawDeg: -20 + 15*float64(seed)}
		s := Rooms()[2]
		s.Board = &b
		img, tr := Render(d, coat, p, cam, s)
		still := p
		still.YawDeg = 0
		right := 1.0
		if p.Facing == timeline.SideRight {
			right = -1
		}
		sin, cos := math.Sincos(b.YawDeg * math.Pi / 180)
		at := func(u, y float64) (float64, float64) { // u across the image from its middle, mm to the right
			return pinhole(d, still, cam, b.XMM+u*right*cos, b.YMM+y, b.ZMM+u*right*sin)
		}
		for i, q := range [][2]float64{{-45, 60}, {45, 60}, {45, 0}, {-45, 0}} {
			if x, y := at(q[0], q[1]); len(tr.Board) != 4 || math.Hypot(x-tr.Board[i].X, y-tr.Board[i].Y) > 1e-6 {
				t.Fatalf("seed %d: corners %v, want the %dth at %.3f %.3f", seed, tr.Board, i, x, y)
			}
		}
		// Along the rows the colour changes where the middle of the board is seen: foreshortened, not half way.
		for _, y := range []float64{10, 30, 50} {
			grey := func(u float64) float64 {
				px, py := at(u, y)
				return float64(img.NRGBAAt(int(px+0.5), int(py+0.5)).G)
			}
			if grey(-4) > 90 || grey(-40) > 90 || grey(4) < 140 || grey(40) < 140 {
				t.Errorf("seed %d: board at height %v shows %v %v | %v %v", seed, y, grey(-40), grey(-4), grey(4), grey(40))
			}
		}
	}
}

func TestABoardOfNoSizeOrImageIsNotDrawn(t *testing.T) {
	d, coat, p, cam := random(2, 160, 120)
	bare, _ := Render(d, coat, p, cam, Rooms()[0])
	for _, b := range []Board{{}, {Image: image.NewGray(image.Rect(0, 0, 2, 2))}, {WidthMM: 50, HeightMM: 50}} {
		s := Rooms()[0]
		s.Board = &b
		if img, _ := Render(d, coat, p, cam, s); !slices.Equal(img.Pix, bare.Pix) {
			t.Errorf("%+v is to be seen", b)
		}
	}
}

func TestEveryColourAndSceneIsDrawn(t *testing.T) {
	for i, c := range Colours() {
		s := PaleRoom()
		s.Clutter, s.Towel, s.TableEnd, s.Lead, s.Hand = int64(i+1), true, true, true, []Hand{HandTail, HandChin}[i%2]
		img, tr := Render(Dog{Seed: int64(i), Colour: c}, Overgrown(30), Pose{YawDeg: 5}, Camera{WidthPX: 200, HeightPX: 150, DistanceMM: 2000}, s)
		if img.Rect.Dx() != 200 || len(tr.Crossed) < 3 {
			t.Errorf("%s: crossed %v", c, tr.Crossed)
		}
	}
}
