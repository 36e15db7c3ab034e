package salon

import (
	"bytes"
	"context"
	"fmt"
	"image"
	"math"
	"runtime/debug"
	"sync"
	"time"

	"thatch/imaging"
	"thatch/imaging/align"
	"thatch/imaging/align/marker"
	"thatch/imaging/outline"
	"thatch/imaging/outline/guess"
	"thatch/timeline"
)

// Bounds of a picture that is looked at while the camera is held. It is never kept and nothing of it is logged.
const (
	MaxFrameBytes = 300 << 10
	MaxFramePX    = 1024
	frameWait     = 1500 * time.Millisecond // for the turn of another's frame; then the camera had better ask again
)

// When a hint is given while the camera is held. Judgement, no source: twice what a photo is refused for, so that a hint means
// something, and where the picture tells nothing nothing is said.
const (
	frameTurnDeg   = 8.0  // of the camera beside the line on which the paws stand
	frameLeanDeg   = 7.0  // of the camera, up or down
	frameYawDeg    = 25.0 // of the dog, told by her outline alone
	frameSureOfDog = 0.4  // how sure her points must be
	frameDogPX     = 160  // of the picture in which the dog is looked for: a second's work at 240, as photos have it, is too much here
	frameDogShare  = 0.4  // of the picture's width; a smaller dog has too few pixels
	frameLevelDeg  = 4.0  // up to here the camera counts as level, and its height can be told
	frameHighest   = 1.7  // heights of the dog's withers
	frameLowest    = 0.25
)

// FrameMarker is the table marker in such a picture.
type FrameMarker struct {
	CornersPX [4]timeline.XY
	MMPerPX   float64
	RollDeg   float64
	TurnDeg   float64 // positive: its right side is farther away
	LeanDeg   float64 // positive: its top is farther away
}

// FrameLook is what such a picture tells. What cannot be told is not said.
type FrameLook struct {
	WidthPX, HeightPX int
	Marker            *FrameMarker      // nil: none that can be measured by
	Facing            timeline.Side     // where her nose points; "": not sure
	Hints             []timeline.Phrase // the one that matters most first
}

// finder lets one picture be looked at at a time, and of each person one.
type finder struct {
	mu   sync.Mutex
	busy map[timeline.ID]bool
	turn chan struct{}
}

func newFinder() *finder {
	return &finder{busy: map[timeline.ID]bool{}, turn: make(chan struct{}, 1)}
}

func frameBusy() error {
	return timeline.NewFault(timeline.TooMany, "fault.frame.busy").After(time.Second)
}

// take is refused where this person's last picture is still looked at, or others' take too long.
func (f *finder) take(ctx context.Context, who timeline.ID) (release func(), err error) {
	f.mu.Lock()
	if f.busy[who] {
		f.mu.Unlock()
		return nil, frameBusy()
	}
	f.busy[who] = true
	f.mu.Unlock()
	free := func() {
		f.mu.Lock()
		delete(f.busy, who)
		f.mu.Unlock()
	}
	wait := time.NewTimer(frameWait)
	defer wait.Stop()
	select {
	case f.turn <- struct{}{}:
		return func() { <-f.turn; free() }, nil
	case <-wait.C:
	case <-ctx.Done():
	}
	free()
	return nil, frameBusy()
}

// LookAtFrame looks at a small JPEG from a camera that is about to photograph a side of a dog. dogToo: at the dog as well,
// which takes longest.
func (s *Salon) LookAtFrame(ctx context.Context, dog timeline.ID, side timeline.Side, jpeg []byte, dogToo bool) (FrameLook, error) {
	if err := checkWordOrUnsaid("side", side, timeline.Sides()); err != nil {
		return FrameLook{}, err
	}
	ghost, err := s.GhostOf(ctx, dog, side)
	if err != nil {
		return FrameLook{}, err
	}
	if len(jpeg) > MaxFrameBytes {
		return FrameLook{}, timeline.NewFault(timeline.TooLarge, "fault.frame.large")
	}
	v, _ := timeline.VisitorOf(ctx)
	release, err := s.finder.take(ctx, v.Person)
	if err != nil {
		return FrameLook{}, err
	}
	defer release()
	img, err := frameOfJPEG(ctx, jpeg)
	if err != nil {
		return FrameLook{}, err
	}
	return lookAtFrame(ctx, img, ghost, dogToo)
}

// frameOfJPEG decodes what a camera's page has sent: a JPEG of bounded size, and nothing else.
func frameOfJPEG(ctx context.Context, b []byte) (*image.NRGBA, error) {
	r := bytes.NewReader(b)
	facts, err := imaging.Inspect(r, r.Size(), "", imaging.InspectOptions{})
	if err != nil {
		return nil, photoFault(err, "read a frame")
	}
	if facts.Format != imaging.FormatJPEG {
		return nil, invalid("frame", "fault.frame.form")
	}
	if facts.WidthPX > MaxFramePX || facts.HeightPX > MaxFramePX {
		return nil, timeline.NewFault(timeline.TooLarge, "fault.frame.large")
	}
	img, err := imaging.Decode(ctx, r, r.Size(), facts)
	if err != nil {
		return nil, photoFault(err, "read a frame")
	}
	return img, nil
}

// lookAtFrame: a defect of what looks is an error, never the end of the program.
func lookAtFrame(ctx context.Context, img *image.NRGBA, g Ghost, dogToo bool) (out FrameLook, err error) {
	defer func() {
		if v := recover(); v != nil {
			err = fmt.Errorf("salon: look at a frame: panic: %v\n%s", v, debug.Stack())
		}
	}()
	out = FrameLook{WidthPX: img.Rect.Dx(), HeightPX: img.Rect.Dy(), Hints: []timeline.Phrase{}}
	out.byMarker(marker.Find(img, marker.Options{}), g.Dog)
	if dogToo && g.Side.Measured() && ctx.Err() == nil { // whoever left has no use for a second's work
		out.byOutline(img, g)
	}
	return out, nil
}

func (l *FrameLook) say(key string, args ...any) {
	l.Hints = append(l.Hints, timeline.Say(key, args...))
}

// byMarker: the marker stands upright on the line of the paws, so that it tells how the camera is held against the dog's plane.
func (l *FrameLook) byMarker(found marker.Found, dog timeline.Dog) {
	m := found.Marker
	if m == nil {
		for _, t := range found.Told {
			if t.Trouble != marker.TroubleForeign {
				l.Hints = append(l.Hints, t.Say())
				return
			}
		}
		return
	}
	l.Marker = &FrameMarker{CornersPX: m.CornersPX, MMPerPX: m.MMPerPX, RollDeg: m.RollDeg, TurnDeg: m.TurnDeg, LeanDeg: m.LeanDeg}
	if m.Text.Dog != "" && m.Text.Dog != dog.ID {
		l.say("camera.hint.other_marker")
	}
	switch {
	case m.TurnDeg > frameTurnDeg:
		l.say("camera.hint.step_right")
	case m.TurnDeg < -frameTurnDeg:
		l.say("camera.hint.step_left")
	}
	switch {
	case m.LeanDeg < -frameLeanDeg:
		l.say("camera.hint.looks_down")
	case m.LeanDeg > frameLeanDeg:
		l.say("camera.hint.looks_up")
	case math.Abs(m.LeanDeg) < frameLevelDeg && dog.WithersMM > 0:
		// A level camera sees at the height of its own middle row; the marker's foot is about where the paws stand.
		foot := (m.CornersPX[2].Y + m.CornersPX[3].Y) / 2
		high := (foot - float64(l.HeightPX)/2) * m.MMPerPX / dog.WithersMM
		if high > frameHighest {
			l.say("camera.hint.too_high")
		} else if high < frameLowest {
			l.say("camera.hint.too_low")
		}
	}
}

// byOutline: what the dog's silhouette alone tells, where it is clearly one.
func (l *FrameLook) byOutline(img *image.NRGBA, g Ghost) {
	img = imaging.Resize(img, frameDogPX)
	w, h := img.Rect.Dx(), img.Rect.Dy()
	found, _, ok := guess.Auto(img)
	if !ok {
		return
	}
	left, right := math.Inf(1), math.Inf(-1)
	for _, q := range found.Polygon {
		left, right = math.Min(left, q.X), math.Max(right, q.X)
	}
	if right-left < frameDogShare*float64(w) {
		l.say("camera.hint.small")
	}
	lm, conf, facing, ok := guess.Points(outline.Result{Polygon: found.Polygon, WidthPX: w, HeightPX: h})
	if !ok || conf[timeline.WithersPt] < frameSureOfDog {
		return
	}
	l.Facing = facing
	if !g.Measured || g.Facing == "" {
		return
	}
	is := align.Placed{Landmarks: lm, Facing: facing, WidthPX: w, HeightPX: h}
	r := align.Align(asPlaced(g.Photo), is)
	if r.StretchRatio > 0 && r.StretchRatio < 1 && r.YawDeg > frameYawDeg {
		l.say("camera.hint.turned")
	}
}
