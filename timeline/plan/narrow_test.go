package plan

import (
	"math"
	"reflect"
	"slices"
	"testing"

	"thatch/timeline"
	"thatch/timeline/coat"
	"thatch/timeline/outside"
)

// A: where a zone is seen whole, its best lies between what a narrow search finds and what the relaxation allows.
func TestANarrowSearchAndItsBoundEncloseTheBest(t *testing.T) {
	cut, reached := 0, 0
	for seed := range outside.Many(t, 150) {
		r := rng(4_000_000 + seed)
		f := randomFile(r, caseSize{zones: 2, sessions: 5 + r.IntN(3), shows: 1 + r.IntN(2)})
		tk := taskOf(t, f)
		for _, z := range tk.zones {
			whole, few := tk.graph(z, usualBreadth), tk.graph(z, breadth{most: 300, keep: 200})
			if whole.thin || !few.thin || !z.hasBand {
				continue
			}
			best, mostUseful := whole.most()
			ready, useful := tk.relaxed(z)
			if ready < best-1e-9 || useful < mostUseful-1e-9 {
				t.Errorf("case %d, %s: bound %.6f, %.6f below what is possible, %.6f, %.6f", seed, z.name, ready, useful, best, mostUseful)
			}
			cut++
			found, foundUseful := few.most()
			if found > best+1e-9 || foundUseful > mostUseful+1e-9 {
				t.Errorf("case %d, %s: a part of it gives %.6f, %.6f, all there is %.6f, %.6f", seed, z.name, found, foundUseful, best, mostUseful)
			}
			if found > best-1e-9 {
				reached++
			}
		}
	}
	if cut < 20 || reached*100 < cut*95 {
		t.Errorf("a narrow search reaches the best in %d of %d zones only", reached, cut)
	}
}

// A: the search by prices over graphs, made to take the cases that are small enough to be listed: what it finds is possible,
// and the best is no further away than it says.
func TestWhatThePricesFindAndProveEncloseTheBest(t *testing.T) {
	reached, cases := 0, outside.ManyOf(t, 150)
	for seed := range cases {
		r := rng(5_000_000 + seed)
		f := randomFile(r, caseSize{zones: 2 + r.IntN(5), sessions: 2 + r.IntN(3), shows: 1 + r.IntN(2)})
		f.Sessions.Minutes = 4 + float64(r.IntN(40))
		tk := taskOf(t, f)
		listed := tk.allOptions()
		exact := tk.choose(listed)
		byGraph := make([]options, len(listed))
		for i, o := range listed {
			if !o.complete {
				t.Fatalf("case %d is too large", seed)
			}
			o.graph, o.complete, o.list = tk.graph(tk.zones[i], usualBreadth), false, []*sequence{o.usual}
			byGraph[i] = o
		}
		got := tk.choose(byGraph)
		left := slices.Clone(tk.room)
		for _, s := range got.picked {
			for k, m := range s.minutes {
				if left[k] -= m; left[k] < -1e-6 {
					t.Errorf("case %d: session %d is overfull by %g", seed, k, -left[k])
				}
			}
		}
		if got.regret < exact.regret-1e-9 || got.regret-got.gap.Regret > exact.regret+1e-9 {
			t.Errorf("case %d: regret %.6f, gap %.6f, the least is %.6f", seed, got.regret, got.gap.Regret, exact.regret)
		}
		if math.Abs(got.regret-exact.regret) > 1e-9 {
			continue
		}
		if got.mean > exact.mean+1e-9 || got.mean+got.gap.ReadinessMean < exact.mean-1e-9 {
			t.Errorf("case %d: mean %.3f, gap %.3f, the best is %.3f", seed, got.mean, got.gap.ReadinessMean, exact.mean)
		}
		if got.mean != exact.mean {
			continue
		}
		a, b := minutesOf(got), minutesOf(exact)
		if a < b-1e-6 || a-got.gap.Minutes > b+1e-6 {
			t.Errorf("case %d: %.3f minutes, gap %.3f, the least are %.3f", seed, a, got.gap.Minutes, b)
		}
		if a < b+1e-6 {
			reached++
		}
	}
	t.Logf("the best was reached in %d of %d cases", reached, cases)
	if reached*100 < cases*80 {
		t.Errorf("the best was reached in %d of %d cases only", reached, cases)
	}
}

// A plan does not depend on chance or on which core was faster.
func TestTheSameFileAlwaysGivesTheSamePlan(t *testing.T) {
	f := overgrown(timeline.Date(2026, 3, 2))
	f.Shows = []coat.Show{{Name: "A", On: f.Today + 98}}
	f.Sessions = &coat.Sessions{EveryDays: 14, First: f.Today + 1, Minutes: 40}
	first := mustMake(t, f)
	for range 3 {
		if again := mustMake(t, f); !reflect.DeepEqual(first, again) {
			t.Fatalf("regret %.6f, mean %.3f, then %.6f, %.3f", first.LargestRegret, first.ReadinessMean, again.LargestRegret, again.ReadinessMean)
		}
	}
}
