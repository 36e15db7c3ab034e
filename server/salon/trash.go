package salon

import (
	"context"

	"thatch/store"
	"thatch/timeline"
)

// TrashDays is how long a thing that was put aside can be had back.
const TrashDays = store.TrashDays

// Trash lists what was put aside, newest first.
func (s *Salon) Trash(ctx context.Context) ([]TrashItem, error) {
	rows, err := s.st.Trash(ctx)
	if err != nil {
		return nil, err
	}
	out := make([]TrashItem, len(rows))
	for i, r := range rows {
		out[i] = TrashItem{Kind: r.Kind, ID: r.ID, Dog: r.Dog, Label: r.Label, When: r.When, DaysLeft: store.DaysLeft(r.When, s.now())}
	}
	return out, nil
}

// Restore takes a thing out of the trash; kind is TrashItem's.
func (s *Salon) Restore(ctx context.Context, kind string, id timeline.ID) error {
	switch kind {
	case "dog":
		return s.RestoreDog(ctx, id)
	case "photo":
		return s.RestorePhoto(ctx, id)
	case "session":
		return s.RestoreSession(ctx, id)
	case "reading":
		return s.RestoreReading(ctx, id)
	case "show":
		return s.RestoreShow(ctx, id)
	case "profile":
		return s.RestoreKind(ctx, id)
	case "check":
		return s.st.RestoreCheck(ctx, id)
	case "heap":
		return s.st.RestoreHeap(ctx, id)
	}
	return invalid("kind", "fault.word", "text", clip(kind, 40), "answers", []string{"dog", "photo", "session", "reading", "show", "profile", "check", "heap"})
}
