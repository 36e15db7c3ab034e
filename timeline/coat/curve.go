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
