package phantom

import (
	"image/color"
	"math/rand/v2"

	"thatch/timeline"
)

// Pose is how the dog stands this time; the zero value is square and level, facing left.
type Pose struct {
	HeadDeg    float64       // head and neck, + nose up
	BackFlexMM float64       // mid-back, + arched up
	HindFeetMM float64       // hind feet, + further back
	ForeFeetMM float64       // forefeet, + further back
	YawDeg     float64       // turn of the dog about the vertical through the middle of its trunk, + tail nearer the camera; beyond ±60 drawn as 60
	PitchDeg   float64       // tilt of the trunk in the picture plane about its middle, + front up; the feet stay, legs stretch or flex
	Facing     timeline.Side // which way the nose points in the picture; "" means SideLeft
}

// Camera is the phone, square to the line the dog stands on. CenterXMM, CenterYMM is what the middle of the picture
// shows of the plane of that line, in mm behind the point on the table below the withers (− towards the nose, for
// either facing) and above the table; the optical axis goes through it. Without a distance the camera is orthographic.
type Camera struct {
	WidthPX, HeightPX    int
	MMPerPX              float64 // in the plane of the line the dog stands on
	DistanceMM           float64 // of a pinhole from that plane; 0 orthographic; less than two heights at the withers is drawn as two
	RollDeg              float64 // turn of the picture's content, + clockwise
	CenterXMM, CenterYMM float64
	Exposure             float64 // stops, 0 neutral
	WhiteBalance         float64 // −1 cool to +1 warm
	NoiseSD              float64 // grey levels of 255
	Seed                 int64   // of noise and of how single hairs fall in this picture
}

// Frame is a level camera that shows the whole dog with room around it.
func Frame(d Dog, widthPX, heightPX int) Camera {
	d = d.orDefaults()
	b := d.Build
	widthMM := d.WithersMM * (0.62*b.Head + 0.45*b.Neck + 1.05*b.Body + 0.25)
	heightMM := d.WithersMM * 1.86
	s := max(widthMM/float64(widthPX), heightMM/float64(heightPX))
	return Camera{
		WidthPX: widthPX, HeightPX: heightPX, MMPerPX: s,
		CenterXMM: d.WithersMM * (0.045 + 0.42*(b.Body-1)), CenterYMM: d.WithersMM * 0.68,
		NoiseSD: 1.6, Seed: d.Seed,
	}
}

// orFrame replaces what cannot be drawn (no size, no scale) by that of Frame.
func (c Camera) orFrame(d Dog) Camera {
	if c.WidthPX <= 0 || c.HeightPX <= 0 {
		c.WidthPX, c.HeightPX = 2016, 1512
	}
	if !(c.MMPerPX > 0) {
		f := Frame(d, c.WidthPX, c.HeightPX)
		c.MMPerPX, c.CenterXMM, c.CenterYMM = f.MMPerPX, f.CenterXMM, f.CenterYMM
	}
	return c
}

func (d Dog) orDefaults() Dog {
	if d.WithersMM == 0 {
		d.WithersMM = 350
	}
	if d.Colour == "" {
		d.Colour = TanAndWhite
	}
	d.Build = d.Build.orStandard()
	if d.Tail.LengthRatio == 0 {
		d.Tail.LengthRatio = 0.36
	}
	return d
}

// Scene is the room and what is in the picture beside the dog. The zero value means Rooms()[0].
type Scene struct {
	Wall, Trim, Table color.NRGBA
	ChalkLine         bool    // a tape line on the table for the paws
	LightX            float64 // where the window's light falls on the wall, 0 left to 1 right
	Clutter           int64   // shelf with bottles, pictures, a second door; the seed of what stands where, 0 none
	Towel             bool    // under the paws, hanging over the table's edge
	TableEnd          bool    // the table ends behind the hind feet, in view
	Shadow            float64 // of the whole dog on the table, soft, away from the light; 0 none to 1
	Lead              bool    // a noose behind the ears, the lead up out of the picture
	Hand              Hand
	Board             *Board
}

// Hand is a groomer's hand on the dog.
type Hand string

const (
	NoHand   Hand = ""
	HandTail Hand = "tail" // holds the tail
	HandChin Hand = "chin" // holds the chin up
)

// Crossed tells which zones of the outline something lies across, and what: "lead" or "hand".
func (s Scene) Crossed() map[timeline.Zone]string {
	out := map[timeline.Zone]string{}
	if s.Lead {
		out[timeline.Crest], out[timeline.Throat] = "lead", "lead"
	}
	switch s.Hand {
	case HandTail:
		out[timeline.Tail] = "hand"
	case HandChin:
		out[timeline.Beard] = "hand"
	}
	return out
}

// PaleRoom is nearly the colour of a white dog.
func PaleRoom() Scene {
	return Scene{Wall: color.NRGBA{206, 200, 190, 255}, Trim: color.NRGBA{214, 212, 200, 255}, Table: color.NRGBA{188, 182, 172, 255}, LightX: 0.3, Shadow: 0.5}
}

// RandomScene is one of the rooms, now and then the pale one, with whatever stands and lies about on the day; no lead
// and no hand, which hide what is to be measured.
func RandomScene(rng *rand.Rand) Scene {
	s := Rooms()[rng.IntN(len(Rooms()))]
	if rng.IntN(6) == 0 {
		s = PaleRoom()
	}
	if rng.IntN(2) == 0 {
		s.Clutter = 1 + rng.Int64N(1<<40)
	}
	s.Towel, s.TableEnd, s.Shadow = rng.IntN(4) == 0, rng.IntN(4) == 0, rng.Float64()
	return s
}

// Rooms returns a few plain rooms with soft light.
func Rooms() []Scene {
	return []Scene{
		{Wall: color.NRGBA{150, 168, 160, 255}, Trim: color.NRGBA{214, 212, 200, 255}, Table: color.NRGBA{42, 43, 46, 255}, ChalkLine: true, LightX: 0.25},
		{Wall: color.NRGBA{128, 150, 172, 255}, Trim: color.NRGBA{206, 208, 210, 255}, Table: color.NRGBA{38, 40, 42, 255}, ChalkLine: true, LightX: 0.7},
		{Wall: color.NRGBA{188, 170, 146, 255}, Trim: color.NRGBA{224, 216, 202, 255}, Table: color.NRGBA{46, 44, 44, 255}, LightX: 0.4},
		{Wall: color.NRGBA{158, 148, 164, 255}, Trim: color.NRGBA{212, 206, 212, 255}, Table: color.NRGBA{40, 40, 44, 255}, ChalkLine: true, LightX: 0.15},
	}
}
