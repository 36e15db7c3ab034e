package phantom

import (
	"fmt"
	"image"
	"iter"
	"math/rand/v2"

	"thatch/timeline"
)

// Shot is one picture of a sample set, not yet drawn.
type Shot struct {
	Name      string // "dog1-session2-photo3.jpg"
	Dog       Dog
	Coat      Coat // as it stood at the session
	Pose      Pose
	Camera    Camera
	Scene     Scene
	DogIndex  int // from 0
	Session   int // from 0
	Photo     int // from 0
	DayOffset int // days after the first session
}

// Render draws the shot and tells the truth about it.
func (s Shot) Render() (*image.NRGBA, Truth) { return Render(s.Dog, s.Coat, s.Pose, s.Camera, s.Scene) }

// Truth is what Render would tell, without the drawing.
func (s Shot) Truth() Truth { return TruthIn(s.Dog, s.Coat, s.Pose, s.Camera, s.Scene) }

// Sample stands up dogs × sessions × photos one after the other: dogs differ in size, build and colour; from session
// to session, two weeks apart, each coat comes from overgrown to ring ready; from photo to photo pose and camera
// move. The same seed gives the same pictures.
func Sample(seed int64, dogs, sessions, photos int) iter.Seq[Shot] {
	return func(yield func(Shot) bool) {
		for d := range dogs {
			dog := RandomDog(seed + int64(d)*1009)
			// Neighbours never share a colour.
			dog.Colour = Colours()[(d+1+int(uint64(seed)%5))%len(Colours())]
			for s := range sessions {
				coat := sampleCoat(dog, s, sessions)
				for p := range photos {
					rng := rand.New(rand.NewPCG(uint64(dog.Seed), uint64(s*1000+p)+1))
					cam := Frame(dog, 2016, 1512).Held(rng)
					room := Rooms()[(d+int(uint64(seed)%4))%len(Rooms())]
					pose := RandomPose(rng)
					if d%2 == 1 {
						pose.Facing = timeline.SideRight
					}
					shot := Shot{Name: fmt.Sprintf("dog%d-session%d-photo%d.jpg", d+1, s+1, p+1), Dog: dog, Coat: coat,
						Pose: pose, Camera: cam, Scene: room, DogIndex: d, Session: s, Photo: p, DayOffset: 14 * s}
					if !yield(shot) {
						return
					}
				}
			}
		}
	}
}

// RandomDog is a dog of the seed's size, build, tail and colour.
func RandomDog(seed int64) Dog {
	rng := rand.New(rand.NewPCG(uint64(seed), 0xd09))
	around := func(mid, half float64) float64 { return mid + half*(rng.Float64()*2-1) }
	return Dog{
		Seed: seed, WithersMM: around(345, 55), Colour: Colours()[rng.IntN(len(Colours()))],
		Build: BuildParams{Leg: around(0.98, 0.06), Body: around(1.03, 0.06), Head: around(1, 0.06), Neck: around(1, 0.07), Bone: around(1.02, 0.08)},
		Tail:  Tail{LengthRatio: around(0.34, 0.06), ForwardDeg: around(-4, 14)},
	}
}

// RandomPose is a dog that stands about square, facing left, and never twice the same.
func RandomPose(rng *rand.Rand) Pose {
	around := func(half float64) float64 { return half * (rng.Float64() + rng.Float64() - 1) }
	return Pose{HeadDeg: around(10), BackFlexMM: around(10), HindFeetMM: around(25), ForeFeetMM: around(15)}
}

// Held is the camera as a hand holds it: roll within 3°, scale within 8 %, a little off centre, light and noise of the day.
func (c Camera) Held(rng *rand.Rand) Camera {
	around := func(half float64) float64 { return half * (rng.Float64()*2 - 1) }
	w := float64(c.WidthPX) * c.MMPerPX
	c.RollDeg += around(3)
	c.MMPerPX *= 1.03 + around(0.05)
	c.CenterXMM += around(0.015) * w
	c.CenterYMM += around(0.015) * w
	c.Exposure, c.WhiteBalance = around(0.25), around(0.3)
	c.NoiseSD = 1.2 + 1.6*rng.Float64()
	c.Seed = int64(rng.Uint64() >> 1)
	return c
}

// sampleCoat passes from overgrown to ring ready, the last session being ready.
func sampleCoat(d Dog, session, sessions int) Coat {
	rng := rand.New(rand.NewPCG(uint64(d.Seed), 0xc0a7))
	long, ready := Overgrown(28+20*rng.Float64()), RingReady(16+8*rng.Float64())
	t := 1.0
	if sessions > 1 {
		t = float64(session) / float64(sessions-1)
	}
	return long.Toward(ready, t)
}

// Toward is the coat a share t of the way from c to o, zone by zone.
func (c Coat) Toward(o Coat, t float64) Coat {
	out := Coat{}
	for _, z := range timeline.Zones() {
		a, b := c.of(z), o.of(z)
		if a.LieRatio == 0 {
			a.LieRatio = defaultLie
		}
		if b.LieRatio == 0 {
			b.LieRatio = defaultLie
		}
		mix := func(p, q float64) float64 { return p + (q-p)*t }
		out[z] = ZoneCoat{LengthMM: mix(a.LengthMM, b.LengthMM), LieRatio: mix(a.LieRatio, b.LieRatio), LoftMM: mix(a.LoftMM, b.LoftMM), InHair: mix(a.InHair, b.InHair)}
	}
	return out
}
