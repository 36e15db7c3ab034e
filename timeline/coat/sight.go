package coat

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"thatch/timeline"
)

// ModelSDMM is the model's own error in a reading: what no choice of rate, lag and full length explains. Judgement.
const ModelSDMM = 1.5

// RulerSDMM is the sd of a reading that does not say its own. Judgement, until a salon has measured its spread.
const RulerSDMM = 1.0

// logNormal is the logarithm of a normal density up to a constant that does not depend on x or mean.
func logNormal(x, mean, variance float64) float64 {
	d := x - mean
	return -d * d / (2 * variance)
}

// A reading that nobody was asked about may be a slip: another zone, another unit, a digit too many. Of slipShare of them
// nothing is believed; what is written then is any length at all. So a reading four standard deviations from every
// plausible coat moves nothing, and an honest surprise is heard. Judgement, no source.
const (
	slipShare   = 0.01
	slipDensity = 1.0 / MaxLengthMM // per mm
)

// sight is one reading with the hair that it can be of: the longest on that day, before the work of that day. The
// layers of a file that was started in mid-history do not tell what hair their follicles carried before; of such a day
// we know only that no layer was longer than the reading (atMost).
type sight struct {
	reading      int // its index in the file
	mm, variance float64
	atMost       bool
	confirmed    bool
	slip         float64 // the slips' density over that of the reading's own error at its peak
	spans        []span

	table []float64 // of the log-likelihood; nil where it is computed
	half  float64   // 1 / (2·variance)
}

// logLikelihood of the reading where the longest hair is that long, up to a constant; slip is the part of it, a share of the
// density itself, that is not believed.
func (s *sight) logLikelihood(longest float64) float64 {
	if s.atMost {
		l := logAtMost(s.mm, longest, s.variance)
		if !s.confirmed {
			l = math.Log((1-slipShare)*math.Exp(l) + slipShare)
		}
		return l
	}
	d := s.mm - longest
	e := -d * d / (2 * s.variance)
	if s.confirmed {
		return e
	}
	return math.Log((1-slipShare)*math.Exp(e) + s.slip)
}

// slipGiven is the probability that the reading is a slip where the longest hair is that long.
func (s *sight) slipGiven(longest float64) float64 {
	if s.confirmed {
		return 0
	}
	if s.atMost {
		return slipShare / ((1-slipShare)*math.Exp(logAtMost(s.mm, longest, s.variance)) + slipShare)
	}
	return s.slip / math.Exp(s.logLikelihood(longest))
}

// longestSpans are the layers that may hold the longest hair on a day before its work.
func (z *ZoneModel) longestSpans(on timeline.Day) []span {
	var out []span
	state := z.stateAt(on - 1)
	for i, l := range state.layers {
		if i > 0 && !state.mixed {
			break // in order: the first is the longest
		}
		if l.pulled < on {
			out = append(out, z.span(l, state.cuts, on))
		}
	}
	return out
}

func (z *ZoneModel) sights() []sight {
	var out []sight
	for i, r := range z.readings {
		sd := r.SDMM
		if sd == 0 {
			sd = RulerSDMM
		}
		s := sight{reading: i, mm: r.LengthMM, variance: sd*sd + ModelSDMM*ModelSDMM, atMost: r.On <= z.snapshot, confirmed: r.Confirmed}
		s.slip = slipShare * slipDensity * math.Sqrt(2*math.Pi*s.variance)
		if !s.atMost && !s.confirmed {
			s.tabulate(out)
		}
		if s.spans = z.longestSpans(r.On); len(s.spans) > 0 {
			out = append(out, s)
		}
	}
	return out
}

// logAtMost is log P(X ≤ x) for X of the normal distribution; Φ's tail by its leading term where it would underflow.
func logAtMost(x, mean, variance float64) float64 {
	t := (x - mean) / math.Sqrt(variance)
	if t < -8 {
		return -t*t/2 - math.Log(-t*math.Sqrt(2*math.Pi))
	}
	return math.Log(distuv.UnitNormal.CDF(t))
}

// readingsLikelihood is N(longest hair, σ² + ModelSDMM²) over all readings, plateau included, slips apart.
func readingsLikelihood(sights []sight) likelihood {
	n := 0
	for i := range sights {
		n += len(sights[i].spans)
	}
	return func(rate, lag, full, out []float64) {
		nl, nf := len(lag), len(full)
		units := make([]float64, n)
		for j, g := range lag {
			at := 0
			for i := range sights {
				for k := range sights[i].spans {
					units[at] = sights[i].spans[k].units(g)
					at++
				}
			}
			for i, r := range rate {
				row := out[(i*nl+j)*nf : (i*nl+j+1)*nf]
				for m, f := range full {
					row[m] += logReadings(sights, units, r, f)
				}
			}
		}
	}
}

// logReadings is the log-likelihood of all readings at one value of the parameters, the growing times of all spans in turn
// given.
func logReadings(sights []sight, units []float64, rate, full float64) float64 {
	sum, at := 0.0, 0
	for i := range sights {
		s := &sights[i]
		longest := 0.0
		for k := range s.spans {
			longest = max(longest, s.spans[k].lengthFrom(rate, units[at], full))
			at++
		}
		if s.table == nil {
			sum += s.logLikelihood(longest)
			continue
		}
		d := s.mm - longest
		e := d * d * s.half / tableStep
		if e >= tableSize-1 {
			sum += s.table[tableSize-1]
			continue
		}
		k := int(e)
		sum += s.table[k] + (e-float64(k))*(s.table[k+1]-s.table[k])
	}
	return sum
}

// The log-likelihood of a reading that may be a slip depends on its squared distance alone, and is looked up: a table of the
// distance in squared half standard deviations, read linearly, is right to 10⁻⁵ and an exponential and a logarithm cheaper.
// Beyond it all is slip.
const (
	tableStep = 0.025
	tableSize = 1201
)

// tabulate shares the table of an earlier reading of the same error.
func (s *sight) tabulate(earlier []sight) {
	s.half = 1 / (2 * s.variance)
	for i := range earlier {
		if earlier[i].table != nil && earlier[i].variance == s.variance {
			s.table = earlier[i].table
			return
		}
	}
	s.table = make([]float64, tableSize)
	for k := range s.table {
		s.table[k] = math.Log((1-slipShare)*math.Exp(-tableStep*float64(k)) + s.slip)
	}
}
