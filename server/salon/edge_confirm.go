package salon

import (
	"context"
	"slices"

	"thatch/timeline"
)

// What a person says of a zone's stretch of the edge, beside EdgeReasons.
const (
	EdgeRight  = "right"
	EdgeUnsaid = "unsaid"
)

// SayOfEdge keeps what a person has seen of the edge in some zones: that it is right, why it is only looked at, or that this
// is not said any more. Several zones at once may be found right only where their contour seldom misleads.
func (s *Salon) SayOfEdge(ctx context.Context, photo timeline.ID, rev timeline.Rev, is string, zones ...timeline.Zone) (timeline.Edge, error) {
	p, e, err := s.edgeToChange(ctx, photo, rev)
	if err != nil {
		return e, err
	}
	if e.Rev == 0 {
		return e, invalid("say", "fault.edge.no_edge")
	}
	if is != EdgeRight && is != EdgeUnsaid && !slices.Contains(EdgeReasons(), is) || len(zones) == 0 {
		return e, invalid("say", "fault.edge.say")
	}
	has := zonesOf(e, p)
	confirmed, looked := slices.Clone(e.Confirmed), map[timeline.Zone]string{}
	for z, why := range e.LookOnly {
		looked[z] = why
	}
	for _, z := range zones {
		if !z.InOutline() {
			return e, invalid("say", "fault.edge.say")
		}
		if len(zones) > 1 && slices.Contains(singleZones, z) {
			return e, invalid("say", "fault.edge.single", "zone", z)
		}
		confirmed = slices.DeleteFunc(confirmed, func(c timeline.Zone) bool { return c == z })
		delete(looked, z)
		switch {
		case is == EdgeUnsaid:
		case is != EdgeRight:
			looked[z] = is
		case slices.Contains(has, z):
			confirmed = append(confirmed, z)
		case len(zones) == 1:
			return e, invalid("say", "fault.edge.not_shown", "zone", z)
		}
	}
	e.Confirmed, e.LookOnly = inOrder(confirmed), looked
	return s.keepEdge(ctx, e)
}

// edgeUnderPoints looks again at what was confirmed after the points of a photo have moved: a zone whose stretch is another
// one now is to be looked at again.
func (s *Salon) edgeUnderPoints(ctx context.Context, was, is timeline.Photo) error {
	e, err := s.edgeOf(ctx, is.ID)
	if err != nil || len(e.Confirmed) == 0 {
		return err
	}
	still := underPoints(e, zonesOf(e, was), zonesOf(e, is))
	if len(still) == len(e.Confirmed) {
		return nil
	}
	e.Confirmed = still
	_, err = s.keepEdge(ctx, e)
	return err
}
