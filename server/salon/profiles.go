package salon

import (
	"context"
	"encoding/json"
	"slices"

	"thatch/timeline"
	"thatch/timeline/coat"
)

// CoatKind is a kind of coat that a dog may have: a built-in one, or one of the salon's own.
type CoatKind struct {
	Key     string       // as a dog names it: a built-in name, or an ID
	Name    string       // of one of the salon's own; "" for a built-in one, whose name is a text of the catalogue
	Base    string       // the built-in one that it was made from; its own name for a built-in one
	Own     bool         // the salon's own: it may be changed
	Rev     timeline.Rev // of one of the salon's own
	Trashed bool
	Dogs    []string // the names of those who have it
	Changed int      // values that are not the built-in one's
}

// KindPage is one kind of coat with everything that it says.
type KindPage struct {
	CoatKind
	Parts []KindPart
}

// profileOf is the kind of coat that a dog names, and its document where it is one of the salon's own. One in the trash is
// found too: a dog keeps what it has. An unknown one is Invalid.
func (s *Salon) profileOf(ctx context.Context, key string) (coat.Profile, json.RawMessage, error) {
	if key == "" || slices.Contains(coat.ProfileNames(), key) {
		p, err := coat.File{Profile: key}.Kind() // read once for all dogs
		return p, nil, err
	}
	row, err := s.st.Profile(ctx, timeline.ID(key))
	if isNotFound(err) {
		_, err = coat.ProfileNamed(key) // its fault names the choices
	}
	if err != nil {
		return coat.Profile{}, nil, err
	}
	p, err := coat.ParseProfile(row.Doc)
	return p, row.Doc, err
}

// Kinds are the built-in kinds of coat, then the salon's own by name.
func (s *Salon) Kinds(ctx context.Context) ([]CoatKind, error) {
	rows, err := s.st.Profiles(ctx)
	if err != nil {
		return nil, err
	}
	dogs, err := s.Dogs(ctx)
	if err != nil {
		return nil, err
	}
	var out []CoatKind
	for _, name := range coat.ProfileNames() {
		out = append(out, CoatKind{Key: name, Base: name})
	}
	for _, r := range rows {
		p, err := coat.ParseProfile(r.Doc)
		if err != nil {
			return nil, err
		}
		out = append(out, ownKind(r, p))
	}
	for i := range out {
		out[i].Dogs = haveKind(dogs, out[i].Key)
	}
	return out, nil
}

func ownKind(r timeline.OwnProfile, p coat.Profile) CoatKind {
	k := CoatKind{Key: string(r.ID), Name: r.Name, Base: p.Base, Own: true, Rev: r.Rev, Trashed: !r.Trashed.IsZero()}
	for _, part := range partsOf(p) {
		k.Changed += part.Changed
	}
	return k
}

func haveKind(dogs []timeline.Dog, key string) []string {
	out := []string{}
	for _, d := range dogs {
		if d.Profile == key {
			out = append(out, d.Name)
		}
	}
	return out
}

// Kind is one kind of coat, value by value. One in the trash is shown as long as a dog has it.
func (s *Salon) Kind(ctx context.Context, key string) (KindPage, error) {
	dogs, err := s.Dogs(ctx)
	if err != nil {
		return KindPage{}, err
	}
	if slices.Contains(coat.ProfileNames(), key) {
		p, err := coat.ProfileNamed(key)
		return KindPage{CoatKind: CoatKind{Key: key, Base: key, Dogs: haveKind(dogs, key)}, Parts: partsOf(p)}, err
	}
	r, err := s.st.Profile(ctx, timeline.ID(key))
	if err != nil {
		return KindPage{}, err
	}
	p, err := coat.ParseProfile(r.Doc)
	if err != nil {
		return KindPage{}, err
	}
	out := KindPage{CoatKind: ownKind(r, p), Parts: partsOf(p)}
	if out.Dogs = haveKind(dogs, key); out.Trashed && len(out.Dogs) == 0 {
		return KindPage{}, notFound("profile " + key)
	}
	return out, nil
}

// CopyKind makes a kind of coat of the salon's own from another one.
func (s *Salon) CopyKind(ctx context.Context, key, name string) (CoatKind, error) {
	from, _, err := s.profileOf(ctx, key)
	if err != nil {
		return CoatKind{}, err
	}
	if name, err = cleanKindName(name); err != nil {
		return CoatKind{}, err
	}
	p := from.CopyAs(name)
	row, err := s.st.CreateProfile(ctx, timeline.OwnProfile{Name: name, Doc: p.JSON()})
	if err != nil {
		return CoatKind{}, err
	}
	return ownKind(row, p), nil
}

// RenameKind gives one of the salon's own another name; rev is checked.
func (s *Salon) RenameKind(ctx context.Context, id timeline.ID, rev timeline.Rev, name string) (CoatKind, error) {
	name, err := cleanKindName(name)
	if err != nil {
		return CoatKind{}, err
	}
	return s.changeKind(ctx, id, rev, func(p coat.Profile) (coat.Profile, error) {
		p.Name = name
		return p, nil
	})
}

// ChangeKind changes values of one of the salon's own by their paths ("zones.back.target.max_mm"): a number, a yes or no, or
// a word. source says where the changed values come from; "" is "the salon's own". A bad value is Invalid with its path as
// the field, and nothing is kept; rev is checked.
func (s *Salon) ChangeKind(ctx context.Context, id timeline.ID, rev timeline.Rev, values map[string]any, source string) (CoatKind, error) {
	source, err := cleanLine("source", source, maxRemarkRunes)
	if err != nil {
		return CoatKind{}, err
	}
	return s.changeKind(ctx, id, rev, func(p coat.Profile) (coat.Profile, error) { return withValues(p, values, source) })
}

// ResetKind gives values back what the built-in kind of coat says; no paths are all.
func (s *Salon) ResetKind(ctx context.Context, id timeline.ID, rev timeline.Rev, paths ...string) (CoatKind, error) {
	return s.changeKind(ctx, id, rev, func(p coat.Profile) (coat.Profile, error) { return withBuiltIn(p, paths) })
}

func (s *Salon) changeKind(ctx context.Context, id timeline.ID, rev timeline.Rev, change func(coat.Profile) (coat.Profile, error)) (CoatKind, error) {
	row, err := s.st.Profile(ctx, id)
	if err != nil {
		return CoatKind{}, err
	}
	p, err := coat.ParseProfile(row.Doc)
	if err != nil {
		return CoatKind{}, err
	}
	if p, err = change(p); err != nil {
		return CoatKind{}, err
	}
	row.Rev, row.Name, row.Doc = rev, p.Name, p.JSON()
	if row, err = s.st.UpdateProfile(ctx, row); err != nil {
		return CoatKind{}, err
	}
	return ownKind(row, p), nil
}

// TrashKind takes one of the salon's own out of the choices; dogs that have it keep it.
func (s *Salon) TrashKind(ctx context.Context, id timeline.ID) error {
	return s.st.TrashProfile(ctx, id)
}

// RestoreKind brings it back.
func (s *Salon) RestoreKind(ctx context.Context, id timeline.ID) error {
	return s.st.RestoreProfile(ctx, id)
}

// maxKindNameBytes is what a profile's document takes.
const maxKindNameBytes = 60

func cleanKindName(name string) (string, error) {
	name, err := cleanLine("name", name, maxNameRunes)
	if err != nil {
		return "", err
	}
	if name == "" || len(name) > maxKindNameBytes {
		return "", invalid("name", "fault.kind.name", "max", maxKindNameBytes)
	}
	return name, nil
}
