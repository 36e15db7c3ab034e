package salon

import (
	"cmp"
	"context"
	"slices"
	"time"

	"thatch/store"
	"thatch/timeline"
)

// nearTime is within what time of a photo of a dog another photo may be of the same dog. It is a hint beside a photo, never
// a proposal: two dogs may share a morning. Judgement, no source.
const nearTime = 15 * time.Minute

// HeapItem is a photo that waits for its dog.
type HeapItem struct {
	store.HeapPhoto
	Dog    timeline.ID       // whose it is: said by a person, or by the table marker; "" where neither says it
	Said   bool              // a person said so
	Looked bool              // it was looked at for the marker
	Why    []timeline.Phrase // where nothing says whose it is: what stands in the way. Never nil
	Near   *timeline.Dog     // the one dog whose photos were taken around the same time; nil: none, or several
}

// HeapGroup is photos of one dog, to be confirmed together.
type HeapGroup struct {
	Dog   timeline.Dog
	Items []HeapItem
}

// HeapLook is all that waits.
type HeapLook struct {
	N        int
	Groups   []HeapGroup    // by the dog's name
	Others   []HeapItem     // nobody knows whose
	Unlooked int            // of the others: the look for the marker is still to come
	Dogs     []timeline.Dog // to choose from: those that photos hint at first, then by name
	Aside    []TrashItem    // put aside, newest first
}

// Heap is all photos that wait for their dog, those of one dog together.
func (s *Salon) Heap(ctx context.Context) (HeapLook, error) {
	out := HeapLook{Groups: []HeapGroup{}, Others: []HeapItem{}, Aside: []TrashItem{}}
	items, dogs, err := s.heapItems(ctx)
	if err != nil {
		return out, err
	}
	out.N = len(items)
	of := map[timeline.ID][]HeapItem{}
	near := map[timeline.ID]bool{}
	for _, h := range items {
		if h.Dog != "" {
			of[h.Dog] = append(of[h.Dog], h)
			near[h.Dog] = true
			continue
		}
		if h.Near != nil {
			near[h.Near.ID] = true
		}
		if !h.Looked {
			out.Unlooked++
		}
		out.Others = append(out.Others, h)
	}
	for _, d := range dogs {
		if len(of[d.ID]) > 0 {
			out.Groups = append(out.Groups, HeapGroup{Dog: d, Items: of[d.ID]})
		}
	}
	out.Dogs = slices.Clone(dogs)
	slices.SortStableFunc(out.Dogs, func(a, b timeline.Dog) int {
		return cmp.Compare(b2i(near[b.ID]), b2i(near[a.ID]))
	})
	trash, err := s.Trash(ctx)
	if err != nil {
		return out, err
	}
	for _, one := range trash {
		if one.Kind == "heap" {
			out.Aside = append(out.Aside, one)
		}
	}
	return out, nil
}

func b2i(b bool) int {
	if b {
		return 1
	}
	return 0
}

// HeapPhoto is one photo that waits, with the dogs to choose from.
func (s *Salon) HeapPhoto(ctx context.Context, id timeline.ID) (HeapItem, []timeline.Dog, error) {
	if _, err := s.waiting(ctx, id); err != nil {
		return HeapItem{}, nil, err
	}
	items, dogs, err := s.heapItems(ctx)
	if err != nil {
		return HeapItem{}, nil, err
	}
	for _, h := range items {
		if h.ID == id {
			return h, dogs, nil
		}
	}
	return HeapItem{}, nil, notFound("heap " + string(id))
}

// heapItems are the photos that wait, by the time they were taken, and all dogs by name.
func (s *Salon) heapItems(ctx context.Context) ([]HeapItem, []timeline.Dog, error) {
	waiting, err := s.st.Heap(ctx)
	if err != nil {
		return nil, nil, err
	}
	dogs, err := s.Dogs(ctx)
	if err != nil {
		return nil, nil, err
	}
	known := map[timeline.ID]timeline.Dog{}
	for _, d := range dogs {
		known[d.ID] = d
	}
	items := make([]HeapItem, len(waiting))
	for i, h := range waiting {
		items[i] = heapItem(h, known)
	}
	slices.SortStableFunc(items, func(a, b HeapItem) int {
		return a.Original.ExifMoment.Instant.Compare(b.Original.ExifMoment.Instant)
	})
	return items, dogs, s.hintAt(ctx, items, known)
}

// heapItem says whose a photo is: by a person's word, else by the marker alone, and only where exactly one of ours could be
// read and names a dog of this salon.
func heapItem(h store.HeapPhoto, dogs map[timeline.ID]timeline.Dog) HeapItem {
	item := HeapItem{HeapPhoto: h, Looked: lookedAt(h.Original), Why: []timeline.Phrase{}}
	if _, ok := dogs[h.SaidDog]; ok {
		item.Dog, item.Said = h.SaidDog, true
		return item
	}
	if !item.Looked {
		item.Why = append(item.Why, timeline.Say("heap.why.unlooked"))
		return item
	}
	look := h.Original.Marker
	if look.Seen != nil {
		if _, ok := dogs[look.Seen.Dog]; ok {
			item.Dog = look.Seen.Dog
			return item
		}
		if look.Seen.Dog == "" {
			item.Why = append(item.Why, timeline.Say("heap.why.salon"))
		} else {
			item.Why = append(item.Why, timeline.Say("heap.why.unknown"))
		}
	}
	for _, code := range look.Told {
		item.Why = append(item.Why, timeline.Say("heap.why."+code))
	}
	if len(item.Why) == 0 {
		item.Why = append(item.Why, timeline.Say("heap.why.none"))
	}
	return item
}

// hintAt finds the dog whose photos were taken around the same time as one that nobody knows, if there is just one.
func (s *Salon) hintAt(ctx context.Context, items []HeapItem, dogs map[timeline.ID]timeline.Dog) error {
	for i := range items {
		at, ok := sure(items[i].Original.ExifMoment)
		if items[i].Dog != "" || !ok {
			continue
		}
		around, err := s.st.Sightings(ctx, at.Add(-nearTime), at.Add(nearTime))
		if err != nil {
			return err
		}
		whose := map[timeline.ID]bool{}
		for _, v := range around {
			whose[v.Dog] = true
		}
		for _, other := range items {
			if t, ok := sure(other.Original.ExifMoment); ok && other.Dog != "" && t.Sub(at).Abs() <= nearTime {
				whose[other.Dog] = true
			}
		}
		if len(whose) != 1 {
			continue
		}
		for id := range whose {
			if d, ok := dogs[id]; ok {
				items[i].Near = &d
			}
		}
	}
	return nil
}
