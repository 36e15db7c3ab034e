package measure

import (
	"math"

	"thatch/timeline"
)

// Apart is the standard deviation of a zone's depth at a sitting for somebody who will take the sittings for independent, the
// others being of that list: each is told an error so much larger that the mean over all of them has its true one. What
// sittings share (where the skin lies) is not averaged away by photographing more often.
func (r Result) Apart(sitting int, z timeline.Zone, others []int) float64 {
	i := r.a.ixDepth(sitting, r.a.zoneAt[z])
	sum := 0.0
	for _, k := range others {
		sum += r.a.cov.At(i, r.a.ixDepth(k, r.a.zoneAt[z]))
	}
	// Never better than what the sitting alone is good for.
	return math.Sqrt(math.Max(sum, r.a.cov.At(i, i)))
}
