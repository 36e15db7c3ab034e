package coat

import (
	"thatch/timeline"
)

// Slip is what a doubtful reading looks like.
type Slip string

const (
	SlipTenfold   Slip = "tenfold"    // ten times what was meant, or a tenth of it
	SlipInch      Slip = "inch"       // inches written as millimetres, or millimetres as inches
	SlipOtherZone Slip = "other_zone" // would fit another zone of the same entry, and that one's here
	SlipLong      Slip = "long"       // longer than any plausible coat
	SlipShort     Slip = "short"
)

// Doubt is a reading that looks like a slip. MeantMM is what it would be without it, 0 where there is no telling; Other the
// zone it was probably exchanged with.
type Doubt struct {
	Zone       timeline.Zone `json:"zone"`
	On         timeline.Day  `json:"on"`
	LengthMM   float64       `json:"length_mm"`
	Looks      Slip          `json:"looks"`
	MeantMM    float64       `json:"meant_mm,omitempty"`
	Other      timeline.Zone `json:"other,omitempty"`
	ExpectedMM Dist          `json:"expected_mm"`
}

// Say is the doubt in words: what is strange, and what was probably meant.
func (d Doubt) Say() timeline.Phrase {
	e := d.ExpectedMM
	args := []any{"zone", d.Zone, "on", d.On, "length", timeline.LengthMM(d.LengthMM), "low", timeline.LengthMM(e.P10), "high", timeline.LengthMM(e.P90)}
	switch d.Looks {
	case SlipTenfold:
		return timeline.Say("doubt.tenfold", append(args, "meant", timeline.LengthMM(d.MeantMM))...)
	case SlipInch:
		return timeline.Say("doubt.inch", append(args, "meant", timeline.LengthMM(d.MeantMM))...)
	case SlipOtherZone:
		return timeline.Say("doubt.other_zone", append(args, "other", d.Other)...)
	case SlipLong:
		return timeline.Say("doubt.long", args...)
	}
	return timeline.Say("doubt.short", args...)
}

// How far from what is expected, in half-widths of the band of 80 % (1.28 standard deviations): a strange reading is doubted
// if a slip explains it, an outrageous one in any case; nearer than nearMM none is. Judgement, no source.
const (
	strange    = 2.0
	outrageous = 4.0
	nearMM     = 8.0
)

func deviates(mm float64, e Dist, halfWidths float64) bool {
	if mm > e.Median {
		return mm-e.Median > max(nearMM, halfWidths*(e.P90-e.Median))
	}
	return e.Median-mm > max(nearMM, halfWidths*(e.Median-e.P10))
}

// fits: inside the band, as far as a ruler can tell.
func fits(mm float64, e Dist) bool { return mm >= e.P10-3*RulerSDMM && mm <= e.P90+3*RulerSDMM }

const mmPerInch = 25.4

// slipOf is what a reading looks like against what was expected; "" for nothing.
func slipOf(mm float64, e Dist) (looks Slip, meant float64) {
	if !deviates(mm, e, strange) {
		return "", 0
	}
	// The commonest first: a digit, then a unit.
	for _, s := range []struct {
		looks Slip
		meant float64
	}{{SlipTenfold, mm * 10}, {SlipTenfold, mm / 10}, {SlipInch, mm * mmPerInch}, {SlipInch, mm / mmPerInch}} {
		if s.meant >= 1 && fits(s.meant, e) {
			return s.looks, s.meant
		}
	}
	switch {
	case !deviates(mm, e, outrageous):
		return "", 0
	case mm > e.Median:
		return SlipLong, 0
	}
	return SlipShort, 0
}

// Doubts are the readings of one entry (mm, longest hair, before work) that look like a slip against the forecast of the
// start of their day, in anatomical order: to be asked about before they are kept. Zones the forecast lacks are let pass.
func Doubts(expected Forecast, lengthMM map[timeline.Zone]float64) []Doubt {
	out := []Doubt{}
	for _, z := range zonesOf(lengthMM) {
		e, ok := expected.Zones[z]
		if !ok {
			continue
		}
		mm := lengthMM[z]
		d := Doubt{Zone: z, On: expected.On, LengthMM: mm, ExpectedMM: e.LongestMM}
		if d.Other = exchanged(expected, lengthMM, z); d.Other != "" {
			d.Looks, d.MeantMM = SlipOtherZone, lengthMM[d.Other]
		} else if d.Looks, d.MeantMM = slipOf(mm, e.LongestMM); d.Looks == "" {
			continue
		}
		out = append(out, d)
	}
	return out
}

// exchanged is the zone of the same entry with which z was probably exchanged: each reading is strange where it is and
// fits where the other is.
func exchanged(f Forecast, mm map[timeline.Zone]float64, z timeline.Zone) timeline.Zone {
	here := f.Zones[z].LongestMM
	if !deviates(mm[z], here, strange) {
		return ""
	}
	for _, o := range zonesOf(mm) {
		e, ok := f.Zones[o]
		if ok && o != z && deviates(mm[o], e.LongestMM, strange) && fits(mm[z], e.LongestMM) && fits(mm[o], here) {
			return o
		}
	}
	return ""
}

// doubt notes the readings that the zone's posterior takes for slips: more likely so than not.
func (z *ZoneModel) doubt() {
	z.slips = nil
	for _, s := range z.sights() {
		if s.confirmed {
			continue
		}
		p := 0.0
		for i := range latticeN {
			longest := 0.0
			for k := range s.spans {
				longest = max(longest, s.spans[k].length(i))
			}
			p += s.slipGiven(longest)
		}
		if p > 0.5*latticeN {
			z.slips = append(z.slips, s.reading)
		}
	}
}

// Doubted are the readings of the file that the model took for slips and left out, oldest zone order first: they are to be
// confirmed, corrected or taken away. What was confirmed is never doubted.
func (m *Model) Doubted() []Doubt {
	out := []Doubt{}
	for _, name := range timeline.Zones() {
		z := m.zones[name]
		if z == nil {
			continue
		}
		for _, i := range z.slips {
			r := z.readings[i]
			d := Doubt{Zone: name, On: r.On, LengthMM: r.LengthMM, ExpectedMM: z.ForecastStart(r.On, Target{}).LongestMM}
			if d.Looks, d.MeantMM = slipOf(r.LengthMM, d.ExpectedMM); d.Looks == "" {
				d.Looks = SlipShort
				if r.LengthMM > d.ExpectedMM.Median {
					d.Looks = SlipLong
				}
			}
			out = append(out, d)
		}
	}
	return out
}
