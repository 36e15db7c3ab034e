package plan

import (
	"math/rand/v2"
	"testing"

	"thatch/timeline"
	"thatch/timeline/coat"
)

// Random coat files for the property tests. Seeds are fixed: a failure names its case.

type caseSize struct {
	zones, sessions, shows int
	noLittle               bool // no zone that a rule compels to be worked
}

func randomFile(r *rand.Rand, size caseSize) coat.File {
	today := timeline.Date(2026, 3, 2) + timeline.Day(r.IntN(200))
	f := coat.File{Today: today, Zones: map[timeline.Zone]coat.Zone{}, Minutes: map[timeline.Zone]map[timeline.Work]float64{}}
	f.Dog.Undercoat = timeline.Undercoats()[r.IntN(3)]
	all := timeline.Zones()
	r.Shuffle(len(all), func(i, j int) { all[i], all[j] = all[j], all[i] })
	for _, name := range all {
		if len(f.Zones) == size.zones {
			break
		}
		if size.noLittle && (name == timeline.Foreleg || name == timeline.Hindleg) {
			continue
		}
		f.Zones[name] = randomZone(r, today)
		if r.IntN(2) == 0 {
			f.Minutes[name] = map[timeline.Work]float64{timeline.Take: 5 + float64(r.IntN(40)), timeline.Strip: 5 + float64(r.IntN(40))}
		}
	}
	s := &coat.Sessions{}
	day := today + timeline.Day(r.IntN(10))
	for range size.sessions {
		s.Dates = append(s.Dates, day)
		day += timeline.Day(5 + r.IntN(25))
	}
	s.Minutes = 240
	if r.IntN(2) == 0 {
		s.Minutes = 4 + float64(r.IntN(8*size.zones)) // binding
	}
	f.Sessions = s
	last := s.Dates[len(s.Dates)-1]
	for i := range size.shows {
		on := last + timeline.Day(1+r.IntN(45))
		if i > 0 { // an earlier show, maybe on a session day
			on = today + timeline.Day(1+r.IntN(int(last-today)+1))
			if on == s.Dates[0] { // one session at least stays
				on++
			}
		}
		show := coat.Show{Name: string(rune('A' + i)), On: on, Priority: r.IntN(4), Targets: map[timeline.Zone]coat.Target{}}
		for _, name := range timeline.Zones() {
			if _, ok := f.Zones[name]; ok && r.IntN(3) == 0 {
				low := float64(r.IntN(20))
				show.Targets[name] = coat.Target{MinMM: low, MaxMM: low + 5 + float64(r.IntN(25)), InHair: float64(r.IntN(4)) * 0.25}
			}
		}
		f.Shows = append(f.Shows, show)
	}
	return f
}

func randomZone(r *rand.Rand, today timeline.Day) coat.Zone {
	z := coat.Zone{Mode: timeline.BringBack}
	if r.IntN(2) == 0 {
		z.Mode = timeline.KeepRolling
	}
	n := 1 + r.IntN(4)
	left, day := 20, today-timeline.Day(3+r.IntN(40))
	for i := range n {
		share := left
		if i < n-1 {
			share = 1 + r.IntN(left-(n-1-i))
		}
		left -= share
		z.Layers = append(z.Layers, coat.Layer{Pulled: day, Share: float64(share) / 20})
		day -= timeline.Day(5 + r.IntN(60))
	}
	if r.IntN(4) == 0 {
		z.Ripeness = &coat.Ripeness{On: today - timeline.Day(r.IntN(8)), Is: timeline.Ripenesses()[r.IntN(4)]}
	}
	z.Sensitive = r.IntN(4) == 0
	return z
}

func mustMake(t testing.TB, f coat.File) Plan {
	t.Helper()
	p, err := Make(f)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func rng(seed int) *rand.Rand { return rand.New(rand.NewPCG(uint64(seed), 0x7468617463680a)) }
