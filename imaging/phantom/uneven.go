package phantom

import (
	"math"

	"thatch/timeline"
)

// unevenIn adds waves and bumps to the depth of the closed line vs, whose vertices lie stepMM apart.
func (c Coat) unevenIn(vs []vertex) {
	n := len(vs)
	done := map[timeline.Zone]bool{}
	for from := 0; from < n; {
		z := vs[from].zone
		to := from
		for to < n && vs[to].zone == z {
			to++
		}
		u := c[z].Uneven
		if z != "" && u.WaveMM != 0 {
			length := u.WavelenMM
			if length <= 0 {
				length = 60
			}
			for i := from; i < to; i++ {
				a := 2*math.Pi*float64(i-from)*stepMM/length + u.PhaseDeg*math.Pi/180
				vs[i].depth = max(0, vs[i].depth+u.WaveMM*math.Sin(a))
			}
		}
		if z != "" && u.BumpMM != 0 && !done[z] {
			sd := u.BumpSDMM
			if sd <= 0 {
				sd = 20
			}
			middle := from + int(math.Round(float64(to-from)*u.BumpAt))
			reach := min(n/2, int(4*sd/stepMM))
			for k := -reach; k <= reach; k++ {
				v := &vs[(middle+k+n)%n]
				q := float64(k) * stepMM / sd
				// Neither nose nor sole grows hair.
				if v.zone != "" {
					v.depth = max(0, v.depth+u.BumpMM*math.Exp(-q*q/2))
				}
			}
		}
		done[z] = true
		from = to
	}
}
