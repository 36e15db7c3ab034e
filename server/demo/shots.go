package demo

import (
	"bytes"
	"fmt"
	"image"
	"math"
	"math/rand/v2"
	"time"

	"thatch/imaging"
	"thatch/imaging/align/marker"
	"thatch/imaging/phantom"
	"thatch/timeline"
)

const (
	photoWidthPX  = 2016
	photoHeightPX = 1512
	jpegQuality   = 88
)

// shot is one photo to take: how the dog stands, and when.
type shot struct {
	role    int
	visit   int // -1: of no visit of the story
	day     timeline.Day
	after   bool
	minutes int // after midnight
	facing  timeline.Side
	state   timeline.CoatState
	points  bool // a person has placed the points
	widthPX int
	seed    uint64
	coat    phantom.Coat
	board   *phantom.Board        // the table marker in its block; nil: not on the table that day
	combed  map[timeline.Zone]int // at how many places it is read with a comb before the work
}

type taken struct {
	shot
	name  string
	jpeg  []byte
	truth phantom.Truth
	err   error
}

// shotsOf are the photos of one visit: two or three at the start, two at the end, one side in most of them.
func shotsOf(r role, ri, vi int, v visit, g growth, today timeline.Day) []shot {
	day := today + timeline.Day(v.day)
	start, end := g.coatOn(day, false), g.coatOn(day, true)
	rng := rand.New(rand.NewPCG(uint64(r.phantom.Seed), uint64(vi)))
	begin := 9*60 + 20 + rng.IntN(90)
	if v.open {
		begin = 7*60 + 40
	}
	at := func(minute int, after bool, side timeline.Side, c phantom.Coat) shot {
		return shot{role: ri, visit: vi, day: day, after: after, minutes: minute, facing: side, state: timeline.CoatBrushedDown, widthPX: photoWidthPX, seed: rng.Uint64(), coat: c}
	}
	shots := []shot{at(begin, false, timeline.SideLeft, start), at(begin+1, false, timeline.SideLeft, start)}
	if vi == 0 {
		shots[0].state = timeline.CoatAsCame
	}
	if vi%2 == 0 {
		shots = append(shots, at(begin+3, false, timeline.SideRight, start))
	}
	if !v.open {
		done := begin + 15 + v.minutes
		shots = append(shots, at(done, true, timeline.SideLeft, end), at(done+1, true, timeline.SideLeft, end))
	}
	// Of a burst one photo gets its points, and the newest visit still waits for them: that is where she would be.
	seen := map[string]bool{}
	for i := range shots {
		key := fmt.Sprint(shots[i].facing, shots[i].after)
		if shots[i].state == timeline.CoatBrushedDown && !seen[key] && !v.open {
			shots[i].points, seen[key] = true, true
		}
	}
	return shots
}

const (
	markerRoomMM = 55
	phoneAwayMM  = 2600
)

// takePhoto draws the shot as the phone would have it: the dog never stands twice the same, the phone is never held the same.
func takePhoto(r role, s shot) taken {
	rng := rand.New(rand.NewPCG(s.seed, 1))
	spread := func(v float64) float64 { return (rng.Float64()*2 - 1) * v }
	d := r.phantom
	d.WithersMM = r.start.WithersMM
	pose := phantom.Pose{HeadDeg: spread(4), BackFlexMM: spread(2), HindFeetMM: spread(10), ForeFeetMM: spread(6), Facing: s.facing}
	cam := phantom.Frame(d, s.widthPX, s.widthPX*photoHeightPX/photoWidthPX)
	cam.MMPerPX *= 1.05 + spread(0.05)
	cam.RollDeg = spread(1.2)
	cam.CenterXMM += spread(18)
	cam.CenterYMM += spread(12)
	cam.Exposure, cam.WhiteBalance, cam.Seed = spread(0.15), spread(0.25), int64(s.seed>>1)
	room := phantom.Rooms()[r.scene%len(phantom.Rooms())]
	if room.Board = s.board; s.board != nil {
		cam.CenterXMM += markerRoomMM // the marker stands behind the hind feet and must be in the picture
		cam.MMPerPX *= 1.08
		cam.DistanceMM = phoneAwayMM
	}
	img, truth := phantom.Render(d, s.coat, pose, cam, room)
	local := s.day.Time().Add(time.Duration(s.minutes)*time.Minute + time.Duration(rng.IntN(50))*time.Second)
	t := taken{shot: s, truth: truth, name: fmt.Sprintf("IMG_%s.jpg", local.Format("20060102_150405"))}
	t.jpeg, t.err = encode(img, local, truth.FocalPX)
	return t
}

// encode writes the photo as a phone does; focalPX 0: the phone does not say its lens.
func encode(img *image.NRGBA, local time.Time, focalPX float64) ([]byte, error) {
	var b bytes.Buffer
	if err := imaging.EncodeJPEG(&b, img, jpegQuality); err != nil {
		return nil, err
	}
	return imaging.InsertEXIF(b.Bytes(), imaging.EXIFFields{TakenLocal: local, Make: "Invented", Model: "Demo phone", Orientation: 1, Focal35MM: int(math.Round(focalPX / marker.FocalPX(1, img.Rect.Dx(), img.Rect.Dy())))})
}

// tapped are the points as a careful hand places them: off by about a quarter of a percent of the body's length.
func tapped(t taken) timeline.Landmarks {
	rng := rand.New(rand.NewPCG(t.seed, 2))
	out := timeline.Landmarks{}
	for _, p := range timeline.Points() {
		if xy, ok := t.truth.Landmarks[p]; ok {
			const jitterPX = 2
			out[p] = timeline.XY{X: xy.X + rng.NormFloat64()*jitterPX, Y: xy.Y + rng.NormFloat64()*jitterPX}
		}
	}
	return out
}
