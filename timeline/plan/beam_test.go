package plan

import "testing"

// A: where a zone's tree is seen whole, its best lies between what the beam finds and what the relaxation allows.
func TestTheBeamAndItsBoundEncloseTheBest(t *testing.T) {
	cut, reached := 0, 0
	for seed := range many(150) {
		r := rng(4_000_000 + seed)
		f := randomFile(r, caseSize{zones: 2, sessions: 3 + r.IntN(4), shows: 1 + r.IntN(2)})
		tk := taskOf(t, f)
		for _, z := range tk.zones {
			o := tk.options(z)
			if !o.complete || !z.hasBand {
				continue
			}
			mostUseful := mostOf(o.list)
			ready, useful := tk.relaxed(z)
			if ready < o.best-1e-9 || useful < mostUseful-1e-9 {
				t.Errorf("case %d, %s: bound %.6f, %.6f below what is possible, %.6f, %.6f", seed, z.name, ready, useful, o.best, mostUseful)
			}
			cut++
			beam := tk.beam(z)
			best := 0.0
			for _, s := range beam {
				best = max(best, s.ready)
			}
			if best > o.best+1e-9 {
				t.Errorf("case %d, %s: the beam finds %.6f, all there is gives %.6f", seed, z.name, best, o.best)
			}
			if best > o.best-1e-9 {
				reached++
			}
		}
	}
	if reached*100 < cut*95 {
		t.Errorf("the beam reaches the best in %d of %d zones only", reached, cut)
	}
}
