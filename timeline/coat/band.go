package coat

import "sync"

// band is logBetween of how much of its full length a hair has, as a table over x = rate · growing time / full length, by
// which alone every law of growth tells that of a hair that grew from nothing. A grid asks for it at millions of places, and
// a law, two normal integrals and a logarithm are dear. Read linearly it is right to 10⁻⁵ for a standard deviation of bandSD
// or more; a narrower one is computed.
type band struct {
	of    bandKey
	table *[bandSize + 1]float64 // nil: narrow
}

type bandKey struct {
	curve             Curve
	lo, hi, sd, wrong float64
}

const (
	bandReach = 16 // beyond it every law is full-grown, to 10⁻⁷
	bandSize  = 32000
	bandSD    = 0.065
)

// bands are those of the whole process: a handful, one for each answer of each profile and law.
var bands sync.Map // bandKey → *band

func bandOf(curve Curve, lo, hi, sd, wrong float64) *band {
	b := &band{of: bandKey{curve, lo, hi, sd, wrong}}
	if sd < bandSD {
		return b
	}
	if kept, ok := bands.Load(b.of); ok {
		return kept.(*band)
	}
	b.table = new([bandSize + 1]float64)
	for i := range b.table {
		b.table[i] = b.compute(bandReach * float64(i) / bandSize)
	}
	kept, _ := bands.LoadOrStore(b.of, b)
	return kept.(*band)
}

func (b *band) compute(x float64) float64 {
	return b.ofShare(b.of.curve.Length(0, x, 1, 1))
}

func (b *band) ofShare(share float64) float64 {
	return logBetween(share, b.of.lo, b.of.hi, b.of.sd, b.of.wrong)
}

// at is the logarithm of the probability of the answer, x ≥ 0.
func (b *band) at(x float64) float64 {
	if b.table == nil {
		return b.compute(x)
	}
	f := x * (bandSize / bandReach)
	if f >= bandSize {
		return b.table[bandSize]
	}
	i := int(f)
	return b.table[i] + (f-float64(i))*(b.table[i+1]-b.table[i])
}

// share is at of a share itself, which Plateau tells; more than the whole is of a hair that was measured so.
func (b *band) share(share float64) float64 {
	if share > 1 {
		return b.ofShare(share)
	}
	return b.at(share)
}

// grown is the likelihood where the longest hair is one that grew from nothing and was never cut.
func (b *band) grown(s *span) likelihood {
	return func(rate, lag, full, out []float64) {
		nl, nf := len(lag), len(full)
		for j, g := range lag {
			units := max(0, s.units(g))
			for i, r := range rate {
				row := out[(i*nl+j)*nf : (i*nl+j+1)*nf]
				for m, l := range full {
					row[m] += b.at(r * units / l)
				}
			}
		}
	}
}
