package overlay

import (
	"errors"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"thatch/timeline"
)

// stood is a square dog facing left, by eye; back 460 px.
func stood() timeline.Landmarks {
	return timeline.Landmarks{
		timeline.Nose: {X: 190, Y: 330}, timeline.Eye: {X: 290, Y: 260}, timeline.Occiput: {X: 410, Y: 225},
		timeline.WithersPt: {X: 590, Y: 400}, timeline.MidBack: {X: 790, Y: 405}, timeline.TailSet: {X: 1050, Y: 420},
		timeline.Buttock: {X: 1160, Y: 520}, timeline.Prosternum: {X: 430, Y: 660}, timeline.Elbow: {X: 575, Y: 790},
		timeline.Hock: {X: 1200, Y: 1000}, timeline.FrontPaw: {X: 540, Y: 1215}, timeline.HindPaw: {X: 1170, Y: 1225},
	}
}

func moved(lm timeline.Landmarks, f func(XY) XY) timeline.Landmarks {
	out := timeline.Landmarks{}
	for p, xy := range lm {
		out[p] = f(xy)
	}
	return out
}

func without(ps ...timeline.Point) timeline.Landmarks {
	lm := stood()
	for _, p := range ps {
		delete(lm, p)
	}
	return lm
}

func skin(t *testing.T, lm timeline.Landmarks, depth map[timeline.Zone]float64) Curve {
	t.Helper()
	c, err := SkinLine(lm, depth, "")
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// toLine is the distance of p from the polylines.
func toLine(path Path, p XY) float64 {
	d := math.Inf(1)
	for _, l := range path {
		for i := range len(l) - 1 {
			ab := sub(l[i+1], l[i])
			t := 0.0
			if ll := dot(ab, ab); ll > 0 {
				t = math.Min(1, math.Max(0, dot(sub(p, l[i]), ab)/ll))
			}
			d = math.Min(d, length(sub(p, lerp(l[i], l[i+1], t))))
		}
	}
	return d
}

func TestTheSkinLineRunsThroughThePointsWhereThereIsNoCoat(t *testing.T) {
	lm := stood()
	c := skin(t, lm, nil)
	for _, p := range []timeline.Point{timeline.Occiput, timeline.WithersPt, timeline.MidBack, timeline.TailSet, timeline.Buttock, timeline.Prosternum} {
		if d := toLine(c.Path(), lm[p]); d > 1e-6 {
			t.Errorf("%s lies %g px off", p, d)
		}
	}
	want := []timeline.Zone{timeline.Crest, timeline.Withers, timeline.Back, timeline.Loin, timeline.Rump, timeline.Thigh, timeline.Forechest}
	if got := c.Zones(); len(got) != len(want) {
		t.Fatalf("zones %v, want %v", got, want)
	} else {
		for i := range want {
			if got[i] != want[i] {
				t.Errorf("zones %v, want %v", got, want)
			}
		}
	}
	for k, st := range c.Strokes {
		for i, s := range st {
			if math.Abs(length(s.Out)-1) > 1e-9 || i > 0 && !(s.SPX > st[i-1].SPX) {
				t.Fatalf("stroke %d, sample %d: %+v", k, i, s)
			}
		}
	}
}

func TestTheSkinLineBendsWithWithersMidBackAndTailSet(t *testing.T) {
	before := skin(t, stood(), nil)
	for _, p := range []timeline.Point{timeline.WithersPt, timeline.MidBack, timeline.TailSet} {
		lm := stood()
		was := lm[p]
		lm[p] = XY{X: was.X, Y: was.Y + 20}
		after := skin(t, lm, nil)
		if d := toLine(after.Path(), was); math.Abs(d-20) > 5 {
			t.Errorf("%s lowered by 20 px, the line by %.1f there", p, d)
		}
		if d := toLine(after.Path(), before.Strokes[0][0].At); d > 1e-6 {
			t.Errorf("%s lowered, the occiput moved by %g px", p, d)
		}
	}
}

// A (analytic): the skin lies a depth below each point, across the line, whichever way the dog faces.
func TestTheSkinLiesItsDepthBelowThePoints(t *testing.T) {
	depth := map[timeline.Zone]float64{timeline.Crest: 8, timeline.Withers: 20, timeline.Back: 22, timeline.Rump: 12, timeline.Thigh: 10, timeline.Forechest: 5}
	for _, c := range []struct {
		name string
		lm   timeline.Landmarks
	}{
		{"facing left", stood()},
		{"facing right", moved(stood(), func(p XY) XY { return XY{X: 1599 - p.X, Y: p.Y} })},
		{"upside down", moved(stood(), func(p XY) XY { return XY{X: 1599 - p.X, Y: 1399 - p.Y} })},
	} {
		t.Run(c.name, func(t *testing.T) {
			on, under := skin(t, c.lm, nil), skin(t, c.lm, depth)
			for p, z := range map[timeline.Point]timeline.Zone{timeline.WithersPt: timeline.Withers, timeline.MidBack: timeline.Back, timeline.TailSet: timeline.Rump, timeline.Prosternum: timeline.Forechest} {
				if d := toLine(under.Path(), c.lm[p]); math.Abs(d-depth[z]) > 0.06*depth[z] {
					t.Errorf("%s: %.2f px above the skin, want %.2f", p, d, depth[z])
				}
			}
			trunk := scale(add(c.lm[timeline.Elbow], c.lm[timeline.TailSet]), 0.5)
			neck := scale(add(c.lm[timeline.Prosternum], c.lm[timeline.Occiput]), 0.5)
			for k := range on.Strokes {
				for _, s := range on.Strokes[k] {
					inside := trunk
					switch s.Zone {
					case timeline.Crest:
						inside = neck
					case timeline.Withers:
						inside = c.lm[timeline.Elbow]
					}
					if dot(s.Out, sub(s.At, inside)) <= 0 {
						t.Fatalf("stroke %d: the normal at %v points into the body", k, s.At)
					}
				}
			}
		})
	}
}

// A (analytic): an offset line stands its depth off the skin: exactly so where the depth does not change, along the
// nearest way. Tolerance 2 % of the depth, for the chords between samples.
func TestTheOutlineStandsItsDepthOffTheSkin(t *testing.T) {
	rnd := rand.New(rand.NewPCG(4, 4))
	for range 50 {
		lm := moved(stood(), func(p XY) XY { return XY{X: p.X + 6*rnd.NormFloat64(), Y: p.Y + 6*rnd.NormFloat64()} })
		c := skin(t, lm, map[timeline.Zone]float64{timeline.Withers: 10, timeline.Back: 10})
		depth, mmPerPX := 4+30*rnd.Float64(), 0.3+0.4*rnd.Float64()
		path := Offset(c, func(timeline.Zone) float64 { return depth }, mmPerPX)
		if len(path) != 2 {
			t.Fatalf("%d pieces, want 2", len(path))
		}
		for _, l := range path {
			for i, p := range l {
				if i == 0 || i == len(l)-1 {
					continue
				}
				if d := toLine(c.Path(), p) * mmPerPX; math.Abs(d-depth) > 0.02*depth {
					t.Fatalf("%.2f mm off the skin, want %.2f", d, depth)
				}
			}
			if crossings(l) > 0 {
				t.Fatal("the line crosses itself")
			}
		}
	}
}

func crossings(l []XY) int {
	n := 0
	for i := range len(l) - 1 {
		for j := i + 2; j < len(l)-1; j++ {
			if _, ok := crossing(l[i], l[i+1], l[j], l[j+1]); ok {
				n++
			}
		}
	}
	return n
}

func TestDepthPassesOverTheBordersOfZonesWithoutAStep(t *testing.T) {
	c := skin(t, stood(), nil)
	depth := map[timeline.Zone]float64{timeline.Crest: 10, timeline.Withers: 40, timeline.Back: 20, timeline.Loin: 30, timeline.Rump: 12, timeline.Thigh: 8, timeline.Forechest: 6}
	upper := Offset(c, func(z timeline.Zone) float64 { return depth[z] }, 0.5)[0]
	for i := 1; i < len(upper); i++ {
		if d := length(sub(upper[i], upper[i-1])); d > 25 {
			t.Errorf("a step of %.1f px after point %d", d, i)
		}
	}
	for z, mm := range depth {
		var mid []Sample
		for _, st := range c.Strokes {
			for _, s := range st {
				if s.Zone == z {
					mid = append(mid, s)
				}
			}
		}
		s := mid[len(mid)/2]
		if z == timeline.Withers || z == timeline.Rump {
			continue // short beside their neighbours: blended throughout
		}
		if d := toLine(Path{upper}, s.At) * 0.5; z != timeline.Forechest && math.Abs(d-mm) > 0.15*mm {
			t.Errorf("in the middle of the %s it stands %.1f mm off, want %.1f", z, d, mm)
		}
	}
}

func TestAZoneWithoutADepthHasNoLine(t *testing.T) {
	c := skin(t, stood(), nil)
	only := func(zs ...timeline.Zone) func(timeline.Zone) float64 {
		return func(z timeline.Zone) float64 {
			for _, y := range zs {
				if y == z {
					return 10
				}
			}
			return math.NaN()
		}
	}
	for _, n := range []struct {
		name string
		f    func(timeline.Zone) float64
		mm   float64
		want int
	}{
		{"back alone", only(timeline.Back), 0.5, 1},
		{"crest and loin", only(timeline.Crest, timeline.Loin), 0.5, 2},
		{"neighbours make one piece", only(timeline.Back, timeline.Loin), 0.5, 1},
		{"none", only(), 0.5, 0},
		{"negative", func(timeline.Zone) float64 { return -1 }, 0.5, 0},
		{"infinite", func(timeline.Zone) float64 { return math.Inf(1) }, 0.5, 0},
		{"no scale", only(timeline.Back), 0, 0},
		{"a scale that is no number", only(timeline.Back), math.NaN(), 0},
	} {
		got := Offset(c, n.f, n.mm)
		if len(got) != n.want {
			t.Errorf("%s: %d pieces, want %d", n.name, len(got), n.want)
		}
		for _, l := range got {
			for _, p := range l {
				if !finite(p) {
					t.Errorf("%s: %v", n.name, p)
				}
			}
		}
	}
}

func TestLoopsAreTakenOut(t *testing.T) {
	// A sharp hollow at the withers and a coat deeper than the hollow is wide.
	lm := stood()
	lm[timeline.WithersPt] = XY{X: 560, Y: 520}
	lm[timeline.Occiput] = XY{X: 500, Y: 200}
	c := skin(t, lm, nil)
	raw := 0
	var line []XY
	for _, s := range c.Strokes[0] {
		line = append(line, add(s.At, scale(s.Out, 120)))
	}
	raw = crossings(line)
	if raw == 0 {
		t.Fatal("the hollow makes no loop: the test tests nothing")
	}
	out := unloop(line)
	if n := crossings(out); n > 0 {
		t.Errorf("%d crossings before, %d after", raw, n)
	}
	if out[0] != line[0] || out[len(out)-1] != line[len(line)-1] {
		t.Error("an end was cut off")
	}
	eight := []XY{{X: 0, Y: 0}, {X: 10, Y: 0}, {X: 10, Y: 10}, {X: 5, Y: 10}, {X: 5, Y: -10}}
	if got := unloop(eight); len(got) != 3 || got[1] != (XY{X: 5}) {
		t.Errorf("%v", got)
	}
}

func TestTheSkinLineIsRefusedWithoutItsPoints(t *testing.T) {
	with := func(p timeline.Point, xy XY) timeline.Landmarks {
		lm := stood()
		lm[p] = xy
		return lm
	}
	for _, c := range []struct {
		name  string
		lm    timeline.Landmarks
		depth map[timeline.Zone]float64
		key   string
	}{
		{"no points", nil, nil, "fault.overlay.no_point"},
		{"no withers", without(timeline.WithersPt), nil, "fault.overlay.no_point"},
		{"no tail set", without(timeline.TailSet), nil, "fault.overlay.no_point"},
		{"an elbow at infinity", with(timeline.Elbow, XY{X: math.Inf(-1)}), nil, "fault.overlay.not_finite"},
		{"withers on the tail set", with(timeline.WithersPt, stood()[timeline.TailSet]), nil, "fault.overlay.too_small"},
		{"a depth that is no number", stood(), map[timeline.Zone]float64{timeline.Back: math.NaN()}, "fault.overlay.depth"},
		{"a negative depth", stood(), map[timeline.Zone]float64{timeline.Back: -1}, "fault.overlay.depth"},
		{"withers and tail set are enough", timeline.Landmarks{timeline.WithersPt: {X: 10, Y: 50}, timeline.TailSet: {X: 90, Y: 50}}, nil, ""},
		{"without head and mid-back", without(timeline.Occiput, timeline.MidBack), nil, ""},
		{"mid-back on the withers", with(timeline.MidBack, stood()[timeline.WithersPt]), nil, ""},
		{"prosternum on the elbow", with(timeline.Prosternum, stood()[timeline.Elbow]), nil, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, err := SkinLine(c.lm, c.depth, timeline.SideLeft)
			if c.key == "" {
				if err != nil || len(got.Strokes) == 0 {
					t.Fatalf("%v, %v", got, err)
				}
				for _, st := range got.Strokes {
					for _, s := range st {
						if !finite(s.At) || !finite(s.Out) {
							t.Fatalf("%+v", s)
						}
					}
				}
				return
			}
			var f *timeline.Fault
			if !errors.As(err, &f) || f.Say.Key != c.key || f.Kind != timeline.Invalid {
				t.Errorf("%v, want %s", err, c.key)
			}
		})
	}
}

func TestFacingSettlesWhichWayIsOutWhereNothingElseDoes(t *testing.T) {
	lm := timeline.Landmarks{timeline.WithersPt: {X: 10, Y: 50}, timeline.TailSet: {X: 90, Y: 50}}
	for facing, up := range map[timeline.Side]float64{timeline.SideLeft: -1, "": -1, timeline.SideRight: 1} {
		c, err := SkinLine(lm, nil, facing)
		if err != nil || c.Strokes[0][0].Out.Y != up {
			t.Errorf("facing %q: out is %v, %v", facing, c.Strokes[0][0].Out, err)
		}
	}
}

func TestPathDataHasOneDecimalAndNoRubbish(t *testing.T) {
	nan := math.NaN()
	for _, c := range []struct {
		name  string
		lines [][]XY
		want  string
	}{
		{"nothing", nil, ""},
		{"one point", [][]XY{{{X: 1, Y: 1}}}, ""},
		{"a line", [][]XY{{{X: 0, Y: 0.04}, {X: 10.26, Y: -3}}}, "M0.5 0.5L10.8 -2.5"},
		{"two lines", [][]XY{{{X: 1, Y: 1}, {X: 2, Y: 2}}, {{X: 3, Y: 3}, {X: 4, Y: 4}}}, "M1.5 1.5L2.5 2.5M3.5 3.5L4.5 4.5"},
		{"no negative zero", [][]XY{{{X: -0.52, Y: -0.5}, {X: 1, Y: 1}}}, "M0.0 0.0L1.5 1.5"},
		{"a hole", [][]XY{{{X: 1, Y: 1}, {X: nan, Y: 2}, {X: 3, Y: 3}}}, "M1.5 1.5L3.5 3.5"},
	} {
		if got := PathD(c.lines...); got != c.want {
			t.Errorf("%s: %q, want %q", c.name, got, c.want)
		}
	}
	if d := PathD(skin(t, stood(), nil).Path()...); strings.Count(d, "M") != 2 || strings.ContainsAny(d, "eNI") {
		t.Errorf("%q", d)
	}
}
