package phantom

import (
	"fmt"
	"iter"
	"maps"
	"math"
	"math/rand/v2"

	"thatch/timeline"
)

// Movement is what changes about the dog from photo to photo.
type Movement string

const (
	Rigid    Movement = "rigid"    // nothing: only the camera moves
	Standing Movement = "standing" // a dog that is stood up anew
)

// Movements returns both.
func Movements() []Movement { return []Movement{Rigid, Standing} }

// Sitting is one session of a dog: the same coat in a few photos.
type Sitting struct {
	Dog       Dog
	DogIndex  int // from 0
	Index     int // of the session, from 0
	DayOffset int // days after the dog's first
	Coat      Coat
	// ChangeMM is how much deeper each zone's coat stands than at the sitting before: grown +, taken −; empty at the
	// first. Where neighbours changed by another amount, the last centimetre before the border passes over to theirs.
	ChangeMM map[timeline.Zone]float64
	Shots    []Shot
}

// Sittings is SittingsOf with three sittings a dog and three photos a sitting.
func Sittings(seed int64, dogs int, movement Movement) iter.Seq[Sitting] {
	return SittingsOf(seed, dogs, 3, 3, movement)
}

// SittingsOf stands up dogs for measuring: each comes several times, two to five weeks apart, and is photographed several
// times with pose (by movement) and camera drawn anew. Between two sittings each zone's coat stands up to 6 mm
// deeper or lower, every third zone by exactly 3 mm. Hair is 5 to 40 mm long, uneven by about 1 mm within each zone;
// two dogs in five have a dip or rise of 3 to 6 mm in the topline, half of them from the second sitting on.
//
// Standing is uniform: head ±10°, hind feet ±25 mm, forefeet ±15 mm, back ±10 mm, yaw ±10°, pitch ±5°. The camera,
// for either movement: distance 2 to 3 m, roll ±5°, scale ±30 % round the frame, moved so that the whole dog shows.
// Each sitting is in a room of its own (RandomScene). Nothing is drawn here; Shot.Render draws, Shot.Truth tells. The same seed gives the same sittings.
func SittingsOf(seed int64, dogs, sittings, photos int, movement Movement) iter.Seq[Sitting] {
	return func(yield func(Sitting) bool) {
		for d := range dogs {
			dog := RandomDog(seed + int64(d)*1009)
			rng := rand.New(rand.NewPCG(uint64(dog.Seed), 0x517))
			facing := timeline.SideLeft
			if rng.IntN(2) == 1 {
				facing = timeline.SideRight
			}
			coat, later := unevenCoat(rng)
			var change map[timeline.Zone]float64
			day := 0
			for i := range sittings {
				if i > 0 {
					coat, change = changed(coat, rng)
					day += 14 + rng.IntN(22)
				}
				if i == 1 {
					later(coat)
				}
				s := Sitting{Dog: dog, DogIndex: d, Index: i, DayOffset: day, Coat: maps.Clone(coat), ChangeMM: change}
				room := RandomScene(rng)
				for p := range photos {
					shot := Shot{
						Name: fmt.Sprintf("dog%d-session%d-photo%d.jpg", d+1, i+1, p+1), Dog: dog, Coat: s.Coat, Scene: room,
						DogIndex: d, Session: i, Photo: p, DayOffset: day,
					}
					// Each photo has draws of its own, so that dogs, coats and cameras are the same for either movement.
					own := rand.New(rand.NewPCG(uint64(dog.Seed), uint64(i*1000+p)+0x51771))
					pose := movedPose(own)
					if movement != Standing {
						pose = Pose{}
					}
					pose.Facing = facing
					shot.Pose = pose
					shot.Camera = heldCamera(dog, s.Coat, pose, own)
					s.Shots = append(s.Shots, shot)
				}
				if !yield(s) {
					return
				}
			}
		}
	}
}

func spread(rng *rand.Rand, half float64) float64 { return half * (rng.Float64()*2 - 1) }

func movedPose(rng *rand.Rand) Pose {
	return Pose{
		HeadDeg: spread(rng, 10), HindFeetMM: spread(rng, 25), ForeFeetMM: spread(rng, 15), BackFlexMM: spread(rng, 10),
		YawDeg: spread(rng, 10), PitchDeg: spread(rng, 5),
	}
}

// heldCamera is a phone 2 to 3 m away whose picture holds the whole dog.
func heldCamera(dog Dog, coat Coat, pose Pose, rng *rand.Rand) Camera {
	c := Frame(dog, 2016, 1512)
	w := float64(c.WidthPX) * c.MMPerPX
	c.DistanceMM = 2000 + 1000*rng.Float64()
	c.RollDeg = spread(rng, 5)
	// About a frame a little larger than the dog, so that it stays whole at +30 %.
	c.MMPerPX *= 1.15 / (1 + spread(rng, 0.3))
	c.CenterXMM += spread(rng, 0.02) * w
	c.CenterYMM += spread(rng, 0.02) * w
	c.Exposure, c.WhiteBalance = spread(rng, 0.25), spread(rng, 0.3)
	c.NoiseSD = 1.2 + 1.6*rng.Float64()
	c.Seed = int64(rng.Uint64() >> 1)
	return c.holding(dog, coat, pose)
}

// holding moves the camera so that outline and paws lie at least 8 px inside the picture, and steps back where it
// cannot.
func (c Camera) holding(dog Dog, coat Coat, pose Pose) Camera {
	const margin = 8.0
	for range 4 {
		small := c
		small.WidthPX, small.HeightPX, small.MMPerPX = c.WidthPX/8, c.HeightPX/8, c.MMPerPX*8
		t := TruthOf(dog, coat, pose, small)
		lox, loy, hix, hiy := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
		for _, ring := range append(t.Far, t.Outline) {
			for _, p := range ring {
				lox, loy, hix, hiy = min(lox, p.X*8), min(loy, p.Y*8), max(hix, p.X*8), max(hiy, p.Y*8)
			}
		}
		w, h := float64(c.WidthPX), float64(c.HeightPX)
		if lox >= margin && loy >= margin && hix <= w-margin && hiy <= h-margin {
			return c
		}
		if more := max((hix-lox)/(w-4*margin), (hiy-loy)/(h-4*margin)); more > 1 {
			c.MMPerPX *= more
		}
		shift := func(lo, hi, size float64) float64 {
			switch {
			case lo < 2*margin:
				return lo - 2*margin
			case hi > size-2*margin:
				return hi - size + 2*margin
			}
			return 0
		}
		// Where the picture's middle should be, in mm of the dog.
		v := c.view(pose.Facing)
		c.CenterXMM, c.CenterYMM = v.mm((w-1)/2+shift(lox, hix, w), (h-1)/2+shift(loy, hiy, h))
	}
	return c
}

// unevenCoat is a coat of 5 to 40 mm, each zone of the jacket its own. later adds what somebody did to the topline
// by the second sitting, in some dogs.
func unevenCoat(rng *rand.Rand) (Coat, func(Coat)) {
	c := Coat{}
	jacket := 7 + 29*rng.Float64()
	for _, z := range timeline.Zones() {
		l := 6 + 18*rng.Float64()
		switch {
		case z.Group() == timeline.GroupJacket || z == timeline.Crest || z == timeline.Tail:
			l = jacket * (0.8 + 0.4*rng.Float64())
		case z == timeline.Beard || z == timeline.Brows || z.Group() == timeline.GroupLegs || z == timeline.Underline:
			l = 12 + 26*rng.Float64()
		case z == timeline.Thigh:
			l = 10 + 24*rng.Float64()
		}
		c[z] = ZoneCoat{
			LengthMM: max(5, min(40, l)), LieRatio: 0.36 + 0.18*rng.Float64(), LoftMM: 2 * rng.Float64(), InHair: 1,
			Uneven: Uneven{WaveMM: 0.6 + 0.7*rng.Float64(), WavelenMM: 45 + 45*rng.Float64(), PhaseDeg: 360 * rng.Float64()},
		}
	}
	topline := []timeline.Zone{timeline.Withers, timeline.Back, timeline.Loin, timeline.Rump}
	z := topline[rng.IntN(len(topline))]
	size := 3 + 3*rng.Float64()
	if rng.IntN(2) == 1 {
		size = -size
	}
	at, sd, kind := 0.2+0.6*rng.Float64(), 14+12*rng.Float64(), rng.IntN(5)
	bump := func(c Coat) {
		v := c[z]
		// A dip cannot go below the skin.
		v.Uneven.BumpMM, v.Uneven.BumpAt, v.Uneven.BumpSDMM = max(size, 1-v.DepthMM()), at, sd
		c[z] = v
	}
	switch kind {
	case 0:
		bump(c)
	case 1:
		return c, bump
	}
	return c, func(Coat) {}
}

// changed is the coat at the next sitting, and by how much each zone's depth has changed.
func changed(c Coat, rng *rand.Rand) (Coat, map[timeline.Zone]float64) {
	out, by := Coat{}, map[timeline.Zone]float64{}
	for _, z := range timeline.Zones() {
		v := c[z]
		mm := spread(rng, 6)
		if rng.IntN(3) == 0 {
			mm = math.Copysign(3, mm)
		}
		fits := func(mm float64) bool {
			l := v.LengthMM + mm/v.LieRatio
			return l >= 5 && l <= 40
		}
		if !fits(mm) {
			mm = -mm
		}
		if !fits(mm) { // a large change of hair that is neither long nor short
			mm = math.Copysign(min(math.Abs(mm), 3), 20-v.LengthMM)
		}
		v.LengthMM += mm / v.LieRatio
		out[z], by[z] = v, mm
	}
	return out, by
}
