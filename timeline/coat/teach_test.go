package coat

import (
	"math"
	"math/rand/v2"
	"testing"

	"thatch/timeline"
	"thatch/timeline/outside"
)

// taught is a dog whose truth is drawn from the starting guesses: what is known of her, and a ruler that reads the truth.
type taught struct {
	file  File
	read  func(timeline.Zone) float64 // the longest hair today
	ahead timeline.Day
}

func drawTaught(t *testing.T, r *rand.Rand, p Profile) taught {
	t.Helper()
	on := mustDay(t, "2026-03-02")
	a := timeline.Answers{On: on, LastWorked: on - 15, Rolled: r.IntN(2) == 0, Undercoat: timeline.UndercoatSome, LongestWithersMM: 18 + 14*r.Float64()}
	if !a.Rolled {
		a.LastWorked = on - 60 - timeline.Day(r.IntN(40))
	}
	f := File{Dog: Dog{Name: "Bracken", Undercoat: timeline.UndercoatSome, Texture: timeline.TextureHarsh}, Profile: "rough", Today: on + 28, Zones: StartZones(a, p)}
	for z, zone := range f.Zones {
		if p.Zones[z].Stripped && a.Rolled {
			zone.Work = append(zone.Work, WorkDone{On: on, Do: timeline.Take, Share: 0.25}, WorkDone{On: on + 14, Do: timeline.Take, Share: 0.25})
		}
		f.Zones[z] = zone
	}
	truth := f
	truth.Zones, truth.Priors = map[timeline.Zone]Zone{}, map[timeline.Zone]Priors{}
	sg, se := lognormalMean1(p.Growth.DogCV), lognormalMean1(p.Growth.ZoneCV)
	g := math.Exp(-sg*sg/2 + sg*r.NormFloat64())
	for _, z := range timeline.Zones() {
		zone := f.Zones[z]
		zone.Measured = nil
		truth.Zones[z] = zone
		truth.Priors[z] = Priors{
			RateMMPerDay: &MeanSD{Mean: p.Growth.RateMMPerDay * p.Zones[z].RateFactor * g * math.Exp(-se*se/2+se*r.NormFloat64())},
			LagDays:      &MedianSD{Median: p.Growth.LagDays.Median * math.Exp(p.Growth.LagDays.SDLog*r.NormFloat64())},
			LengthMaxMM:  &MeanSD{Mean: drawFull(r, p.Zones[z].LengthMaxMM)},
		}
	}
	lengths := modelOf(t, truth).ForecastStart(f.Today).Zones
	return taught{f, func(z timeline.Zone) float64 {
		return math.Max(0, lengths[z].LongestMM.Median+math.Sqrt(readingVariance)*r.NormFloat64())
	}, f.Today + 28}
}

func modelOf(t testing.TB, f File) *Model {
	t.Helper()
	m, err := New(f)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// with is the file with a reading of today more.
func (x taught) with(f File, z timeline.Zone, mm float64) File {
	out := f
	out.Zones = map[timeline.Zone]Zone{}
	for name, zone := range f.Zones {
		if name == z {
			zone.Measured = append(append([]Measured(nil), zone.Measured...), Measured{On: f.Today, LengthMM: mm, SDMM: RulerSDMM, Confirmed: true})
		}
		out.Zones[name] = zone
	}
	return out
}

// widths is the mean width of the bands ahead, p10 to p90, over the zones that have a weight.
func widths(m *Model, ahead timeline.Day, weight map[timeline.Zone]float64) float64 {
	sum, n := 0.0, 0.0
	f := m.Forecast(ahead)
	for z, w := range weight {
		sum += w * (f.Zones[z].VisibleMM.P90 - f.Zones[z].VisibleMM.P10)
		n += w
	}
	return sum / n
}

func banded(p Profile) map[timeline.Zone]float64 {
	out := map[timeline.Zone]float64{}
	for z, zp := range p.Zones {
		if zp.Target != nil && zp.Target.HasBand() {
			out[z] = 1
		}
	}
	return out
}

// Three readings where the model asks for them leave narrower bands than three in a fixed order, and a reading narrows them by
// about as much as was foretold.
func TestReadingsWhereTheModelAsksTeachMoreThanThoseInAFixedOrder(t *testing.T) {
	outside.Alone(t)
	p, err := ProfileNamed("rough")
	if err != nil {
		t.Fatal(err)
	}
	weight := banded(p)
	r := rand.New(rand.NewPCG(7, 7))
	dogs := outside.Many(t, 10)
	orders := map[string][]timeline.Zone{
		"withers, back, loin":   {timeline.Withers, timeline.Back, timeline.Loin},
		"the dog from in front": {timeline.Skull, timeline.Cheek, timeline.Throat},
	}
	var none, asked, foretold, came float64
	fixed := map[string]float64{}
	better := 0
	for range dogs {
		x := drawTaught(t, r, p)
		start := widths(modelOf(t, x.file), x.ahead, weight)
		none += start
		read := map[timeline.Zone]float64{} // one truth of the ruler a zone, whoever asks
		ruler := func(z timeline.Zone) float64 {
			if _, ok := read[z]; !ok {
				read[z] = x.read(z)
			}
			return read[z]
		}
		f := x.file
		had := map[timeline.Zone]bool{}
		var width float64
		for range 3 {
			m := modelOf(t, f)
			was := widths(m, x.ahead, weight)
			for _, l := range m.Lessons(f.Today, x.ahead, weight) {
				if had[l.Zone] {
					continue
				}
				had[l.Zone] = true
				f = x.with(f, l.Zone, ruler(l.Zone))
				foretold += l.NarrowsMM / float64(len(weight))
				break
			}
			width = widths(modelOf(t, f), x.ahead, weight)
			came += was - width
		}
		asked += width
		won := true
		for name, order := range orders {
			f := x.file
			for _, z := range order {
				f = x.with(f, z, ruler(z))
			}
			w := widths(modelOf(t, f), x.ahead, weight)
			fixed[name] += w
			won = won && width < w
		}
		if won {
			better++
		}
	}
	n := float64(dogs)
	t.Logf("%d dogs, mean width of %d bands 28 days ahead: unread %.2f, read where asked %.2f mm; foretold %.2f, came %.2f mm a reading; best of all in %d", dogs, len(weight), none/n, asked/n, foretold/n/3, came/n/3, better)
	for name, w := range fixed {
		t.Logf("%s: %.2f mm; where asked %.0f %% more is taken off", name, w/n, 100*((none-asked)/(none-w)-1))
		if none-asked < 1.05*(none-w) {
			t.Errorf("%s: %.2f mm, where asked %.2f", name, w/n, asked/n)
		}
	}
	if foretold < came/2 || foretold > 2*came {
		t.Errorf("foretold %.2f mm a reading, came %.2f", foretold/n/3, came/n/3)
	}
}

func TestAZoneThatWasJustReadTeachesLeast(t *testing.T) {
	f := fullFile(t)
	back := f.Zones[timeline.Back]
	for range 3 {
		back.Measured = append(back.Measured, Measured{On: f.Today, LengthMM: 20, SDMM: 1, Confirmed: true})
	}
	own := func(f File) float64 {
		for _, l := range modelOf(t, f).Lessons(f.Today, f.Today+28, map[timeline.Zone]float64{timeline.Back: 1}) {
			if l.Zone == timeline.Back {
				return l.OwnMM
			}
		}
		return math.NaN()
	}
	before := own(f)
	f.Zones[timeline.Back] = back
	if after := own(f); !(after < before) {
		t.Errorf("before it was read the back would teach %.2f mm of itself, after it %.2f", before, after)
	}
}

func BenchmarkLessons(b *testing.B) {
	f := fullFile(b)
	m := modelOf(b, f)
	weight := map[timeline.Zone]float64{timeline.Back: 1, timeline.Loin: 1}
	for b.Loop() {
		m.Lessons(f.Today, f.Today+28, weight)
	}
}
