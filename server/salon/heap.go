package salon

import (
	"context"
	"io"
	"slices"
	"time"

	"thatch/imaging"
	"thatch/store"
	"thatch/timeline"
)

// Heaped is what became of a photo that came in without its dog.
type Heaped struct {
	Photo   store.HeapPhoto // zero where it is on a dog's timeline already
	Facts   imaging.Facts   // what the headers of the file said; kept beside an error too
	Already bool            // it was here before: told, not stored twice
	On      []timeline.Dog  // whose timelines it is on already
}

// AddToHeap takes a photo in whose dog nobody has said: received, judged and kept as AddPhoto does it, and with the same
// refusals. One that is on a dog's timeline already does not wait for its dog.
func (s *Salon) AddToHeap(ctx context.Context, name string, r io.Reader, wantSHA string) (Heaped, error) {
	name = fileName(name)
	in, facts, err := s.receive(ctx, name, r, wantSHA)
	out := Heaped{Facts: facts}
	if err != nil {
		return out, err
	}
	defer in.Discard() // does nothing once the file is kept
	dogs, err := s.st.DogsOfOriginal(ctx, in.SHA256)
	if err != nil {
		return out, err
	}
	for _, id := range dogs {
		d, err := s.Dog(ctx, id)
		if err != nil {
			return out, err
		}
		out.On = append(out.On, d)
	}
	if out.Already = len(out.On) > 0; out.Already {
		if err := s.st.HealOriginal(ctx, in); err != nil {
			return out, err
		}
		return out, nil
	}
	if err := s.checkNew(ctx, in, facts); err != nil {
		return out, err
	}
	waiting, err := s.st.Heap(ctx)
	if err != nil {
		return out, err
	}
	out.Already = slices.ContainsFunc(waiting, func(h store.HeapPhoto) bool { return h.Original.SHA256 == in.SHA256 })
	out.Photo, err = s.st.KeepInHeap(ctx, in, originalOf(facts, s.Now()), name, []store.Job{{Kind: store.KindDerive, Key: in.SHA256}})
	return out, err
}

// HeapSize is how many photos wait for their dog.
func (s *Salon) HeapSize(ctx context.Context) (int, error) { return s.st.HeapSize(ctx) }

// HeapPicture opens a size of a photo that waits for its dog.
func (s *Salon) HeapPicture(ctx context.Context, id timeline.ID, kind PictureKind) (Picture, error) {
	h, err := s.waiting(ctx, id)
	if err != nil {
		return Picture{}, err
	}
	return s.picture(ctx, timeline.Photo{SHA256: h.Original.SHA256}, kind)
}

// waiting is a photo that waits for its dog, unless it is in the trash.
func (s *Salon) waiting(ctx context.Context, id timeline.ID) (store.HeapPhoto, error) {
	h, err := s.st.InHeap(ctx, id)
	if err == nil && !h.Trashed.IsZero() {
		return store.HeapPhoto{}, notFound("heap " + string(id))
	}
	return h, err
}

// SayHeapDog keeps a person's word for whose photos these are; dog "" takes it back. They still wait until they are filed.
func (s *Salon) SayHeapDog(ctx context.Context, ids []timeline.ID, dog timeline.ID) error {
	if err := anyPhoto(ids); err != nil {
		return err
	}
	if dog != "" {
		if _, err := s.Dog(ctx, dog); err != nil {
			return err
		}
	}
	for _, id := range ids {
		if err := gone(s.st.SayHeapDog(ctx, id, dog)); err != nil {
			return err
		}
	}
	return nil
}

// FileHeap puts photos of the heap onto a dog's timeline, all or none: from then on they are photos like any other, dated
// by their files and paired with the sessions of their days. A photo that somebody filed or put aside meanwhile is a
// Conflict.
func (s *Salon) FileHeap(ctx context.Context, dog timeline.ID, ids []timeline.ID) ([]timeline.Photo, error) {
	if err := anyPhoto(ids); err != nil {
		return nil, err
	}
	d, err := s.Dog(ctx, dog)
	if err != nil {
		return nil, err
	}
	var photos []timeline.Photo
	for _, id := range ids {
		h, err := s.waiting(ctx, id)
		if err != nil {
			return nil, gone(err)
		}
		p, err := s.newPhoto(ctx, d, h.File, h.Original)
		if err != nil {
			return nil, err
		}
		photos = append(photos, p)
	}
	filed, err := s.st.FileHeap(ctx, photos, func(sha string) []store.Job { return []store.Job{{Kind: store.KindDerive, Key: sha}} })
	if err != nil {
		return nil, gone(err)
	}
	sessions := map[timeline.ID]bool{}
	for _, p := range filed {
		sessions[p.Session] = true
	}
	for id := range sessions {
		if err := s.proposePhases(ctx, d.ID, id); err != nil {
			return nil, err
		}
	}
	for i := range filed {
		if filed[i], err = s.st.Photo(ctx, filed[i].ID); err != nil {
			return nil, err
		}
	}
	return filed, nil
}

// TrashHeap puts photos of the heap aside; each comes back from the trash.
func (s *Salon) TrashHeap(ctx context.Context, ids []timeline.ID) error {
	if err := anyPhoto(ids); err != nil {
		return err
	}
	for _, id := range ids {
		if err := gone(s.st.TrashHeap(ctx, id)); err != nil {
			return err
		}
	}
	return nil
}

func anyPhoto(ids []timeline.ID) error {
	if len(ids) == 0 {
		return invalid("photo", "fault.heap.none")
	}
	return nil
}

// gone says of a photo that left the heap meanwhile that it did: a person looks at a list that is not the newest.
func gone(err error) error {
	if isNotFound(err) || timeline.KindOf(err) == timeline.Conflict {
		return timeline.NewFault(timeline.Conflict, "fault.heap.gone").In("photo").Because(err)
	}
	return err
}

// sure is when a photo was taken where nothing is to doubt about the time of day.
func sure(m timeline.Moment) (at time.Time, ok bool) {
	return m.Instant, !m.Instant.IsZero() && len(m.Flags) == 0
}
