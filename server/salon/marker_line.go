package salon

import (
	"context"
	"math"

	"thatch/store"
	"thatch/timeline"
)

// MarkerLine is what the table marker in a photo says, in words.
type MarkerLine struct {
	Says  timeline.Phrase   // the scale with its error, or that there is none
	Error bool              // Says carries an error, which wants explaining
	Notes []timeline.Phrase // what was in the way, and what to look at
	Print bool              // a marker would help: offer to print one
}

// MarkerLine says what a look for the table marker has found in a photo.
func (s *Salon) MarkerLine(ctx context.Context, p timeline.Photo, o timeline.Original) (MarkerLine, error) {
	if o.Marker == nil {
		return MarkerLine{Says: timeline.Say("photo.marker.unlooked")}, nil
	}
	out := MarkerLine{}
	for _, code := range o.Marker.Told {
		out.Notes = append(out.Notes, timeline.Say("marker.why."+code))
	}
	seen := o.Marker.Seen
	if seen == nil {
		out.Says, out.Print = timeline.Say("photo.marker.none"), len(out.Notes) == 0
		return out, nil
	}
	scale := scaleSeen(p, store.Scale{FocalPX: o.FocalPX, Marker: o.Marker})
	out.Error = true
	out.Says = timeline.Say("photo.marker.scale", "scale", math.Round(scale.MMPerPX*1000)/1000, "percent", math.Round(scale.Percent()*10)/10)
	if seen.Dog == "" || seen.Dog == p.Dog {
		return out, nil
	}
	d, err := s.Dog(ctx, seen.Dog)
	switch {
	case err == nil:
		out.Notes = append(out.Notes, timeline.Say("photo.marker.other", "name", d.Name))
	case isNotFound(err):
		out.Notes = append(out.Notes, timeline.Say("photo.marker.unknown"))
	default:
		return out, err
	}
	return out, nil
}
