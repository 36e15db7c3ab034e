package plan

import (
	"slices"
	"testing"

	"thatch/timeline/coat"
	"thatch/timeline/outside"
)

// A: the worst show rules, so the verdict of the next one is never worse; where the show that rules is the first that asks
// anything of the zone, both say the same.
func TestTheVerdictOfTheNextShowIsNotTheLaterOnes(t *testing.T) {
	rank := []Verdict{OnTrack, Tight, TooLate}
	differ, same := 0, 0
	cases := outside.ManyOf(t, 60)
	for seed := range cases {
		r := rng(7_000_000 + seed)
		f := randomFile(r, caseSize{zones: 3, sessions: 3, shows: 2})
		p, err := Make(f)
		if err != nil {
			t.Fatal(err)
		}
		for z, o := range p.Zones {
			if o.Verdict == NoBand {
				if !o.Show.IsZero() || o.Next != NoBand {
					t.Errorf("case %d: %s has no band, and a show %v that rules, next %q", seed, z, o.Show, o.Next)
				}
				continue
			}
			if !slices.ContainsFunc(f.Shows, func(s coat.Show) bool { return s.On == o.Show }) {
				t.Errorf("case %d: no show on %v, which rules %s", seed, o.Show, z)
			}
			next, rules := slices.Index(rank, o.Next), slices.Index(rank, o.Verdict)
			first := slices.MinFunc(f.Shows, func(a, b coat.Show) int { return int(a.On - b.On) }).On
			switch {
			case next > rules:
				t.Errorf("case %d: %s is %q at the next show, and %q at the worst", seed, z, o.Next, o.Verdict)
			case o.Show == first && next != rules:
				t.Errorf("case %d: %s is %q at the next show, which rules with %q", seed, z, o.Next, o.Verdict)
			case next != rules:
				differ++
			default:
				same++
			}
		}
	}
	if cases >= 60 && (differ == 0 || same == 0) {
		t.Errorf("%d zones differ, %d do not: these cases show nothing", differ, same)
	}
}
