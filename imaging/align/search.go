package align

import (
	"math"
	"sort"
	"sync"
)

// candidate is a guess of where the old dog lies in the new picture.
type candidate struct {
	mirrored bool
	t        Similarity
	score    float64
}

// sweep tries scales 0.7 to 1.4, rolls of ±8° and every shift by two px of the coarse plane, for the template about its
// centre, frame being the ratio of the pictures' sizes. It returns the best few that are not neighbours.
func sweep(t template, centre XY, p *plane, frame float64, mirrored bool) []candidate {
	const pad = 64
	pw, ph := p.w+2*pad, p.h+2*pad
	py, pg := make([]float32, pw*ph), make([]float32, pw*ph)
	for y := range ph {
		for x := range pw {
			i := min(max(y-pad, 0), p.h-1)*p.w + min(max(x-pad, 0), p.w-1)
			py[y*pw+x], pg[y*pw+x] = p.y[i], p.g[i]
		}
	}
	var ty, tg corr
	for i := range t.at {
		ty.add(t.y[i], 0)
		tg.add(t.g[i], 0)
	}
	n := float64(len(t.at))
	vy, vg := ty.aa-ty.a*ty.a/n+lumaFloor*n, tg.aa-tg.a*tg.a/n+steepFloor*n

	var all []candidate
	var mu sync.Mutex
	var wg sync.WaitGroup
	for _, scale := range []float64{0.7, 0.785, 0.88, 0.987, 1.107, 1.242, 1.4} {
		wg.Go(func() {
			var mine []candidate
			for _, roll := range []float64{-8, -4, 0, 4, 8} {
				s := Turn(scale*frame, roll, centre)
				m := p.into().Compose(s)
				c := m.Apply(centre)
				off := make([]int, len(t.at))
				inside := true
				for i, q := range t.at {
					r := m.Apply(q)
					dx, dy := int(math.Round(r.X-c.X)), int(math.Round(r.Y-c.Y))
					off[i] = dy*pw + dx
					inside = inside && max(dx, -dx, dy, -dy) < pad
				}
				if !inside {
					continue
				}
				for y := 0; y < p.h; y += 2 {
					for x := 0; x < p.w; x += 2 {
						o := (y+pad)*pw + x + pad
						var a, aa, at, b, bb, bt float32
						for i, d := range off {
							v, g := py[o+d], pg[o+d]
							a, aa, at = a+v, aa+v*v, at+v*t.y[i]
							b, bb, bt = b+g, bb+g*g, bt+g*t.g[i]
						}
						cy := (float64(at) - float64(a)*ty.a/n) / math.Sqrt(vy*(float64(aa)-float64(a)*float64(a)/n+lumaFloor*n))
						cg := (float64(bt) - float64(b)*tg.a/n) / math.Sqrt(vg*(float64(bb)-float64(b)*float64(b)/n+steepFloor*n))
						k := candidate{mirrored: mirrored, score: 0.5*cy + 0.5*cg, t: s}
						back := p.into().Inverse().Apply(XY{X: float64(x), Y: float64(y)})
						k.t.TX, k.t.TY = s.TX+back.X-centre.X, s.TY+back.Y-centre.Y
						if k.score > 0.1 {
							mine = append(mine, k)
						}
					}
				}
			}
			mine = best(mine, centre, 6/p.scale, 12)
			mu.Lock()
			all = append(all, mine...)
			mu.Unlock()
		})
	}
	wg.Wait()
	return best(all, centre, 6/p.scale, 12)
}

// best are the n highest that lie at least apart px or a fifth in scale from each other, in a fixed order.
func best(cs []candidate, centre XY, apart float64, n int) []candidate {
	sort.Slice(cs, func(i, j int) bool {
		a, b := cs[i], cs[j]
		switch {
		case a.score != b.score:
			return a.score > b.score
		case a.t.A != b.t.A:
			return a.t.A < b.t.A
		case a.t.B != b.t.B:
			return a.t.B < b.t.B
		case a.t.TX != b.t.TX:
			return a.t.TX < b.t.TX
		}
		return a.t.TY < b.t.TY
	})
	var out []candidate
next:
	for _, c := range cs {
		for _, o := range out {
			ratio := c.t.Scale() / o.t.Scale()
			if distance(c.t.Apply(centre), o.t.Apply(centre)) < apart && ratio < 1.2 && ratio > 1/1.2 {
				continue next
			}
		}
		if out = append(out, c); len(out) == n {
			break
		}
	}
	return out
}

// steps are the first moves of a climb; 0 holds that freedom fast.
type steps struct{ shiftPX, scale, rollDeg float64 } // shift in px of the plane

// climb walks from s to the best agreement near it, about the centre, halving its steps five times; penalty may hold it
// near where it began.
func climb(t template, p *plane, s Similarity, centre XY, st steps, penalty func(Similarity) float64) (Similarity, float64) {
	value := func(s Similarity) float64 {
		v := t.score(p, s)
		if penalty != nil {
			v -= penalty(s)
		}
		return v
	}
	v := value(s)
	for range 5 {
		for moved := 0; moved < 12; moved++ {
			c := s.Apply(centre)
			d := st.shiftPX / p.scale
			var near []Similarity
			for _, k := range []float64{-1, 1} {
				if d > 0 {
					near = append(near, Similarity{A: s.A, B: s.B, TX: s.TX + k*d, TY: s.TY}, Similarity{A: s.A, B: s.B, TX: s.TX, TY: s.TY + k*d})
				}
				if st.scale > 0 {
					near = append(near, Turn(1+k*st.scale, 0, c).Compose(s))
				}
				if st.rollDeg > 0 {
					near = append(near, Turn(1, k*st.rollDeg, c).Compose(s))
				}
			}
			to, tv := s, v
			for _, q := range near {
				if w := value(q); w > tv {
					to, tv = q, w
				}
			}
			if tv <= v {
				break
			}
			s, v = to, tv
		}
		st = steps{st.shiftPX / 2, st.scale / 2, st.rollDeg / 2}
	}
	return s, v
}
