package coat

import "math"

// Curve is how a hair lengthens with season units of growing time.
type Curve interface {
	// Length is the length in mm after s season units of a hair that was from mm long, at a rate in mm per unit and a
	// full length in mm. It does not fall in s, nor below from for s ≥ 0. A negative s looks back, never below 0.
	Length(from, rate, full, s float64) float64
}

// Plateau grows at a steady rate until the full length: min(L∞, L0 + r·S).
type Plateau struct{}

func (Plateau) Length(from, rate, full, s float64) float64 {
	l := from + rate*s
	if s < 0 {
		return math.Max(l, 0)
	}
	return math.Max(from, math.Min(full, l))
}

// Monomolecular slows down as it nears the full length: L∞ − (L∞ − L0)·e^(−r·S/L∞), from zero L∞(1 − e^(−r·S/L∞)).
type Monomolecular struct{}

func (Monomolecular) Length(from, rate, full, s float64) float64 {
	if from >= full {
		if s < 0 {
			return math.Max(from+rate*s, 0)
		}
		return from
	}
	return math.Max(full+(from-full)*math.Exp(-rate*s/full), 0)
}

// Sigmoid begins slowly, is quickest at the rate r where 39 % grown, and slows down: L∞(1 − e^(−x²)), x = r·S/(k·L∞),
// k = √(2/e), which is Weibull's distribution of shape 2 (J Appl Mech 18 (1951) 293–297) as a law of growth (Yang, Kozak,
// Smith 1978, Can J For Res 8:424–431; both from memory).
type Sigmoid struct{}

var sigmoidK = math.Sqrt(2 / math.E)

func (Sigmoid) Length(from, rate, full, s float64) float64 {
	if from >= full {
		if s < 0 {
			return math.Max(from+rate*s, 0)
		}
		return from
	}
	x := rate * s / (sigmoidK * full)
	if from > 0 {
		x += math.Sqrt(-math.Log1p(-from / full))
	}
	if x <= 0 {
		return 0
	}
	l := full * (1 - math.Exp(-x*x))
	if s >= 0 && l < from {
		return from // by rounding
	}
	return l
}

func curveNamed(name string) (Curve, bool) {
	switch name {
	case "", "plateau":
		return Plateau{}, true
	case "monomolecular":
		return Monomolecular{}, true
	}
	return nil, false
}

const yearDays = 365.25

// clock is ∫(1 + α cos ωt + β sin ωt) dt from 2000-01-01 in days, ω = 2π/365.25; growing time S(a,b) is its difference.
func (s Season) clock(t float64) float64 {
	if s.Alpha == 0 && s.Beta == 0 {
		return t
	}
	const w = 2 * math.Pi / yearDays
	sin, cos := math.Sincos(w * t)
	return t + s.Alpha/w*sin - s.Beta/w*cos
}

// Units are the season units S(a,b) between two times in days since 2000-01-01.
func (s Season) Units(a, b float64) float64 { return s.clock(b) - s.clock(a) }

// SeasonPeaking is growth modulated by 1 + amplitude·cos ω(t − peak), the peak in days since a 1 January.
func SeasonPeaking(amplitude, peakDay float64) Season {
	sin, cos := math.Sincos(2 * math.Pi / yearDays * peakDay)
	return Season{Alpha: amplitude * cos, Beta: amplitude * sin}
}
