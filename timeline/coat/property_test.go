package coat

import (
	"math"
	"math/rand/v2"
	"testing"

	"thatch/timeline"
	"thatch/timeline/outside"
)

// someFile is a coat file drawn at random: layers with and without lengths, any work, readings, any undercoat.
func someFile(r *rand.Rand, today timeline.Day) File {
	f := File{Dog: Dog{Name: "Bracken", Undercoat: timeline.Undercoats()[r.IntN(3)], Texture: timeline.Textures()[r.IntN(3)]},
		Profile: ProfileNames()[r.IntN(len(ProfileNames()))], Today: today, Zones: map[timeline.Zone]Zone{}}
	for range 1 + r.IntN(3) {
		name := timeline.Zones()[r.IntN(22)]
		z := Zone{}
		n := 1 + r.IntN(5)
		left := 1.0
		for i := range n {
			l := Layer{Pulled: today - timeline.Day(60+r.IntN(200)), Share: left / float64(n-i)}
			left -= l.Share
			if r.IntN(4) == 0 {
				mm := r.Float64() * 70
				l.LengthMM = &mm
			}
			z.Layers = append(z.Layers, l)
		}
		for range r.IntN(5) {
			z.Work = append(z.Work, WorkDone{On: today - timeline.Day(r.IntN(80)), Do: timeline.Works()[r.IntN(7)], Share: 0.05 + 0.9*r.Float64()})
		}
		for range r.IntN(4) {
			z.Measured = append(z.Measured, Measured{On: today - timeline.Day(r.IntN(80)), LengthMM: r.Float64() * 60})
		}
		if r.IntN(6) == 0 {
			f.Priors = map[timeline.Zone]Priors{name: {Season: &Season{0.3, -0.2}}}
		}
		f.Zones[name] = z
	}
	return f
}

func TestWhateverTheFile(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	today := mustDay(t, "2026-05-01")
	for range outside.ManyOf(t, 150) {
		f := someFile(r, today)
		m := mustModel(t, f)
		for _, name := range zonesOf(f.Zones) {
			z := m.Zone(name)
			day := today + timeline.Day(r.IntN(60))
			target := Target{MinMM: 10 * r.Float64(), MaxMM: 10 + 30*r.Float64(), InHair: 0.6 * r.Float64()}
			before := z.Forecast(nil, day, target)
			checkSane(t, string(name), before)
			for _, do := range timeline.Works() {
				step := Step{On: day, Do: do, Share: 0.05 + 0.95*r.Float64()}
				after := z.Forecast([]Step{step}, day, target)
				checkSane(t, string(name), after)
				// Work takes away, the same day.
				for _, pair := range [][2]Dist{{before.VisibleMM, after.VisibleMM}, {before.LongestMM, after.LongestMM}, {before.MeanMM, after.MeanMM}, {before.InHair, after.InHair}} {
					if pair[1].Median > pair[0].Median+1e-9 || pair[1].P10 > pair[0].P10+1e-9 || pair[1].P90 > pair[0].P90+1e-9 {
						t.Fatalf("%s: %v made the coat longer: %+v, then %+v", name, step, pair[0], pair[1])
					}
				}
				// What the search shares is what a sequence says.
				if p, q := z.Readiness([]Step{step}, day, target), z.Start().After(step).Readiness(day, target); p != q || p != *after.Readiness {
					t.Fatalf("%s: readiness %v by steps, %v by state, %v by forecast", name, p, q, *after.Readiness)
				}
				sum := 0.0
				for _, l := range z.Start().After(step).layers {
					sum += l.share
				}
				if math.Abs(sum-1) > 2*shareTolerance {
					t.Fatalf("%s: %v leaves shares of %v", name, step, sum)
				}
			}
			// Time adds.
			last := before
			for d := day + 1; d < day+200; d += 13 {
				next := z.Forecast(nil, d, target)
				for _, pair := range [][2]Dist{{last.VisibleMM, next.VisibleMM}, {last.LongestMM, next.LongestMM}, {last.MeanMM, next.MeanMM}, {last.InHair, next.InHair}} {
					if pair[1].Median < pair[0].Median-1e-9 || pair[1].P10 < pair[0].P10-1e-9 || pair[1].P90 < pair[0].P90-1e-9 {
						t.Fatalf("%s: the coat shrank by %s: %+v, then %+v", name, d, pair[0], pair[1])
					}
				}
				last = next
			}
		}
	}
}

func TestTheQuickReadinessIsTheFullOne(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	today := mustDay(t, "2026-05-01")
	compared := 0
	for range 100 {
		f := someFile(r, today)
		m := mustModel(t, f)
		for _, name := range zonesOf(f.Zones) {
			s := m.Zone(name).Start().After(Step{today + 5, timeline.Take, 0.3})
			if s.mixed {
				continue
			}
			target := Target{MinMM: 12 * r.Float64(), MaxMM: 15 + 20*r.Float64(), InHair: float64(r.IntN(2)) * r.Float64()}
			on := today + 5 + timeline.Day(r.IntN(60))
			if q, full := s.Readiness(on, target), s.readinessSorted(on, target); q != full {
				t.Fatalf("%s: %v by one layer, %v by all", name, q, full)
			}
			compared++
		}
	}
	if compared < 50 {
		t.Fatalf("only %d compared", compared)
	}
}

func TestReadingsNarrowTheBand(t *testing.T) {
	p := mustDay(t, "2026-01-01")
	today := p + 70
	width := func(n int, zone timeline.Zone) float64 {
		z := Zone{Layers: []Layer{{Pulled: p, Share: 1}}}
		for i := range n {
			age := timeline.Day(42 + 7*i)
			z.Measured = append(z.Measured, Measured{On: p + age, LengthMM: 0.38 * (float64(age) - 18), SDMM: 1})
		}
		f := oneZone(today, z, Priors{})
		f.Zones[timeline.Loin] = Zone{Layers: []Layer{{Pulled: p, Share: 1}}}
		d := mustModel(t, f).Forecast(today + 21).Zones[zone].LongestMM
		return d.P90 - d.P10
	}
	last := width(0, timeline.Back)
	for n := 1; n <= 4; n++ {
		w := width(n, timeline.Back)
		if w >= last {
			t.Errorf("%d readings leave %.2f mm, %d left %.2f mm", n, w, n-1, last)
		}
		last = w
	}
	if a, b := width(0, timeline.Loin), width(4, timeline.Loin); b >= a {
		t.Errorf("the back's readings teach the loin nothing: %.2f mm, then %.2f mm", a, b)
	}
}

func TestStatusFollowsTheReadings(t *testing.T) {
	p := mustDay(t, "2026-01-01")
	status := func(days ...timeline.Day) Status {
		z := Zone{Layers: []Layer{{Pulled: p, Share: 1}}}
		for _, d := range days {
			z.Measured = append(z.Measured, Measured{On: p + d, LengthMM: 0.38 * (float64(d) - 18), SDMM: 1})
		}
		return mustModel(t, oneZone(p+100, z, Priors{})).Zone(timeline.Back).Status()
	}
	if s := status(); s != StartingGuess {
		t.Errorf("without a reading: %s", s)
	}
	if s := status(40); s != Updating {
		t.Errorf("after one reading: %s", s)
	}
	if s := status(40, 60, 80, 100); s != Learned {
		t.Errorf("after four readings: %s", s)
	}
}

func TestWorks(t *testing.T) {
	p := mustDay(t, "2026-01-01")
	today := p + 100
	thirds := Zone{Layers: []Layer{{Pulled: p, Share: 0.5}, {Pulled: p + 28, Share: 0.3}, {Pulled: p + 56, Share: 0.2}}}
	z := mustModel(t, oneZone(today, thirds, pinned(0.38, 18, 50))).Zone(timeline.Back)
	length := func(age float64) float64 { return 0.38 * (age - 18) }
	see := func(name string, steps []Step, longest, visible, inHair float64) {
		t.Helper()
		f := z.Forecast(steps, today, Target{})
		near(t, name+": longest", f.LongestMM.Median, longest, 1e-9)
		near(t, name+": visible", f.VisibleMM.Median, visible, 1e-9)
		near(t, name+": in hair", f.InHair.Median, inHair, 1e-9)
		if f.Readiness != nil {
			t.Errorf("%s: readiness without a band", name)
		}
	}
	see("nothing", nil, length(100), length(100), 1)
	see("leave", []Step{{today, timeline.Leave, 0}}, length(100), length(100), 1)
	see("card", []Step{{today, timeline.Card, 0}}, length(100), length(100), 1)
	see("take a third", []Step{{today, timeline.Take, 1.0 / 3}}, length(100), length(72), 2.0/3)
	see("take half", []Step{{today, timeline.Take, 0.5}}, length(72), length(72), 0.5)
	see("take nine tenths", []Step{{today, timeline.Take, 0.9}}, length(44), 0, 0.1)
	see("strip", []Step{{today, timeline.Strip, 0}}, 0, 0, 0)
	see("scissor", []Step{{today, timeline.Scissor, 0}}, 20, 20, 1)
	see("tidy what is no stray", []Step{{today, timeline.Tidy, 0}}, length(100), length(100), 1)
	see("strays", []Step{{today, timeline.Take, 0.46}, {today, timeline.Tidy, 0}}, length(72), length(72), 0.54)
	if pulled, share := z.TopLayer([]Step{{today, timeline.Take, 0.5}}, today); pulled != p+28 || math.Abs(share-0.3) > 1e-12 {
		t.Errorf("top layer %s, %v", pulled, share)
	}
	// Hair that is not out yet cannot be pulled: its growth goes on.
	again := []Step{{today, timeline.Strip, 0}, {today + 7, timeline.Strip, 0}}
	if pulled, share := z.TopLayer(again, today+7); pulled != today || share != 1 {
		t.Errorf("bare skin pulled again: %s, %v", pulled, share)
	}
}

func TestDepthIsLieTimesLengthPlusLoft(t *testing.T) {
	p := mustDay(t, "2026-01-01")
	lie := 0.5
	zone := Zone{Layers: []Layer{{Pulled: p, Share: 1}}, Lie: &lie, Work: []WorkDone{{On: p + 60, Do: timeline.Card, Loft: timeline.LoftWoolly}}}
	f := oneZone(p+100, zone, pinned(0.38, 18, 50))
	f.Dog.Undercoat = timeline.UndercoatSome
	prof, err := ProfileNamed("rough")
	if err != nil {
		t.Fatal(err)
	}
	m := mustModel(t, f)
	near(t, "before carding", m.Forecast(p + 59).Zones[timeline.Back].DepthMM.Median, 0.5*0.38*41+prof.Growth.LoftMM[timeline.LoftSome], 1e-9)
	near(t, "after carding", m.Forecast(p + 60).Zones[timeline.Back].DepthMM.Median, 0.5*0.38*42+prof.Growth.LoftMM[timeline.LoftWoolly], 1e-9)
}
