package coat

import (
	"math"
	"reflect"
	"testing"

	"thatch/timeline"
)

func TestFourAnswersStartADog(t *testing.T) {
	on := mustDay(t, "2026-05-01")
	for _, name := range ProfileNames() {
		p, err := ProfileNamed(name)
		if err != nil {
			t.Fatal(err)
		}
		for _, a := range []timeline.Answers{
			{On: on},
			{On: on, LongestWithersMM: 25},
			{On: on, LongestWithersMM: 90},
			{On: on, LastWorked: on - 200, Undercoat: timeline.UndercoatHeavy, LongestWithersMM: 55},
			{On: on, LastWorked: on - 14, Rolled: true, Undercoat: timeline.UndercoatSome, LongestWithersMM: 22},
			{On: on, LastWorked: on - 10, Rolled: true, Undercoat: timeline.UndercoatNone},
			{On: on, LastWorked: on, Rolled: true, LongestWithersMM: 1},
		} {
			zones := StartZones(a, p)
			if len(zones) != len(timeline.Zones()) {
				t.Fatalf("%d zones", len(zones))
			}
			m := mustModel(t, File{Dog: Dog{Name: "Bracken", Undercoat: a.Undercoat}, Profile: name, Today: on, Zones: zones})
			for zone, z := range m.Forecast(on + 30).Zones {
				checkSane(t, string(zone), z)
			}
			if a.LongestWithersMM == 0 {
				continue
			}
			// The coat that follows from the answers must be the coat that was told.
			got := m.ForecastStart(on).Zones[timeline.Withers].LongestMM
			if told := a.LongestWithersMM; told > 10 && told < 60 && (got.P10 > told+3 || got.P90 < told-3) {
				t.Errorf("%s, %+v: told %g mm, expected %+v", name, a, told, got)
			}
		}
	}
}

func TestARolledCoatHasLayersTwoWeeksApart(t *testing.T) {
	on := mustDay(t, "2026-05-01")
	p, err := ProfileNamed("rough")
	if err != nil {
		t.Fatal(err)
	}
	layers, mode := LayersFrom(timeline.Answers{On: on, LastWorked: on - 14, Rolled: true, Undercoat: timeline.UndercoatSome, LongestWithersMM: 14}, p, timeline.Back)
	if mode != timeline.KeepRolling || len(layers) != 4 {
		t.Fatalf("%s, %d layers", mode, len(layers))
	}
	sum := 0.0
	for i, l := range layers {
		sum += l.Share
		if want := on - 14 - 14*timeline.Day(3-i); l.Pulled != want {
			t.Errorf("layer %d pulled %s, want %s", i, l.Pulled, want)
		}
	}
	near(t, "shares", sum, 1, 1e-12)
	if layers, mode := LayersFrom(timeline.Answers{On: on, LastWorked: on - 100}, p, timeline.Back); mode != timeline.BringBack || !reflect.DeepEqual(layers, []Layer{{Pulled: on - 100, Share: 1}}) {
		t.Errorf("not rolled: %s, %+v", mode, layers)
	}
	if _, mode := LayersFrom(timeline.Answers{On: on, LastWorked: on - 100, Rolled: true}, p, timeline.Back); mode != timeline.BringBack {
		t.Errorf("rolled, then untouched for three months: %s", mode)
	}
}

func TestEveryProfileValueHasItsSource(t *testing.T) {
	kinds := map[string]reflect.Type{"growth": reflect.TypeFor[Growth](), "rules": reflect.TypeFor[Rules](), "zones": reflect.TypeFor[ZoneProfile]()}
	for _, name := range ProfileNames() {
		p, err := ProfileNamed(name)
		if err != nil {
			t.Fatal(err)
		}
		for prefix, k := range kinds {
			for i := range k.NumField() {
				tag := k.Field(i).Tag.Get("json")
				if tag != "source" && p.Sources[prefix+"."+tag] == "" {
					t.Errorf("%s: %s.%s has no source", name, prefix, tag)
				}
			}
		}
		if _, ok := curveNamed(p.Growth.Curve); !ok {
			t.Errorf("%s: no curve %q", name, p.Growth.Curve)
		}
		if len(p.Zones) != len(timeline.Zones()) {
			t.Errorf("%s: %d zones", name, len(p.Zones))
		}
		for z, zp := range p.Zones {
			if !z.Known() || zp.Source == "" || zp.RateFactor <= 0 || zp.LengthMaxMM.Mean <= 0 || zp.ScissorMM <= 0 || zp.ClipMM <= 0 {
				t.Errorf("%s, %s: %+v", name, z, zp)
			}
			if zp.Target != nil && (zp.Target.MaxMM > zp.LengthMaxMM.Mean || zp.Target.MinMM >= zp.Target.MaxMM) {
				t.Errorf("%s, %s: target %+v of a coat that reaches %g mm", name, z, *zp.Target, zp.LengthMaxMM.Mean)
			}
			if zp.Stripped != (zp.Target != nil) {
				t.Errorf("%s, %s: a band and stripping go together", name, z)
			}
			for _, w := range []timeline.Work{timeline.Take, timeline.Strip, timeline.Tidy, timeline.Card, timeline.Scissor, timeline.Clip} {
				if !(zp.Minutes[w] > 0) || math.IsInf(zp.Minutes[w], 0) {
					t.Errorf("%s, %s: %s takes %v minutes", name, z, w, zp.Minutes[w])
				}
			}
		}
	}
}

func TestAsOfKnowsNothingOfTheDay(t *testing.T) {
	f := fullFile(t)
	day := f.Today - 60 + 28 // a session
	g := f.AsOf(day)
	if err := g.Validate(); err != nil {
		t.Fatal(err)
	}
	for name, z := range g.Zones {
		for _, w := range z.Work {
			if w.On >= day {
				t.Errorf("%s: work of %s", name, w.On)
			}
		}
		for _, m := range z.Measured {
			if m.On >= day {
				t.Errorf("%s: reading of %s", name, m.On)
			}
		}
	}
	if len(f.Zones[timeline.Back].Work) != 4 {
		t.Error("the file itself was changed")
	}
}
