package plan

import "testing"

// A: where a zone is seen whole, its best lies between what a narrow search finds and what the relaxation allows.
func TestANarrowSearchAndItsBoundEncloseTheBest(t *testing.T) {
	cut, reached := 0, 0
	for seed := range many(150) {
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
