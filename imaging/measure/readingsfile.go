package measure

import (
	"bytes"
	"encoding/json"
	"io"
	"math"

	"thatch/timeline"
)

// ReadingsFile says which photos belong together and what a hand has measured: at best all zones once, then one zone each
// time.
type ReadingsFile struct {
	// Sittings in the order of time.
	Sittings []FileSitting `json:"sittings"`
	// Confirmed are zones whose edge somebody has looked at; of underline, legs and beard nothing is told without it.
	Confirmed []timeline.Zone `json:"confirmed"`
}

// FileSitting is the photos of one phase of a session.
type FileSitting struct {
	Photos []string                      `json:"photos"` // base names
	ByHand map[timeline.Zone]HandReading `json:"by_hand"`
}

// HandReading is one depth by comb, mm; SDMM 0 means CombSDMM.
type HandReading struct {
	MM   float64 `json:"mm"`
	SDMM float64 `json:"sd_mm"`
}

// CombSDMM is the error of a depth read with a comb: judgement, no source.
const CombSDMM = 1.0

const (
	maxReadingsBytes = 4 << 20
	maxDepthMM       = 150.0
)

// Depth is the reading as the adjustment takes it.
func (r HandReading) Depth() Depth {
	if r.SDMM == 0 {
		r.SDMM = CombSDMM
	}
	return Depth(r)
}

// ReadReadings reads a file of readings; anything that is none is an Invalid fault whose Field says where.
func ReadReadings(r io.Reader) (ReadingsFile, error) {
	var out ReadingsFile
	b, err := io.ReadAll(io.LimitReader(r, maxReadingsBytes+1))
	if err != nil {
		return out, timeline.NewFault(timeline.Internal, "fault.measure.unreadable").At("read readings").Because(err)
	}
	if len(b) > maxReadingsBytes {
		return out, timeline.NewFault(timeline.TooLarge, "fault.measure.too_large").At("read readings")
	}
	d := json.NewDecoder(bytes.NewReader(b))
	d.DisallowUnknownFields()
	if err := d.Decode(&out); err != nil || d.More() {
		return out, timeline.NewFault(timeline.Invalid, "fault.measure.not_readings").At("read readings").Because(err)
	}
	invalid := func(field, key string, args ...any) (ReadingsFile, error) {
		return ReadingsFile{}, timeline.NewFault(timeline.Invalid, key, args...).At("read readings").In(field)
	}
	seen := map[string]bool{}
	for _, s := range out.Sittings {
		for _, p := range s.Photos {
			if seen[p] {
				return invalid(p, "fault.measure.twice", "photo", p)
			}
			seen[p] = true
		}
		for z, h := range s.ByHand {
			if !z.InOutline() {
				return invalid(string(z), "fault.measure.zone", "zone", string(z))
			}
			if !(h.MM >= 0 && h.MM <= maxDepthMM) || !(h.SDMM >= 0 && h.SDMM <= maxDepthMM) || math.IsInf(h.SDMM, 0) {
				return invalid(string(z), "fault.measure.range", "zone", z, "max", timeline.LengthMM(maxDepthMM))
			}
		}
	}
	for _, z := range out.Confirmed {
		if !z.InOutline() {
			return invalid("confirmed", "fault.measure.zone", "zone", string(z))
		}
	}
	return out, nil
}
