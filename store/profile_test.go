package store

import (
	"context"
	"reflect"
	"testing"

	tl "thatch/timeline"
)

func TestAKindOfCoatOfTheSalonsOwnComesBackAsItWasKept(t *testing.T) {
	s, ctx := newStore(t, Options{}), context.Background()
	made := must(s.CreateProfile(ctx, tl.OwnProfile{Name: "  Short  jacket ", Doc: []byte(`{"name":"Short jacket"}`)}))(t)
	if len(made.ID) != 16 || made.Rev != 1 || made.Name != "Short jacket" || made.Added.IsZero() {
		t.Errorf("made %+v", made)
	}
	_, err := s.CreateProfile(ctx, tl.OwnProfile{Name: "SHORT JACKET", Doc: []byte(`{}`)})
	wantKind(t, err, tl.Conflict, "fault.store.profile_exists")
	_, err = s.CreateProfile(ctx, tl.OwnProfile{Name: "Another", Doc: []byte(`{`)})
	wantKind(t, err, tl.Invalid, "fault.store.value")
	_, err = s.CreateProfile(ctx, tl.OwnProfile{Name: " ", Doc: []byte(`{}`)})
	wantKind(t, err, tl.Invalid, "fault.store.name_empty")

	old := made
	made.Name, made.Doc = "Shorter jacket", []byte(`{"name":"Shorter jacket"}`)
	changed := must(s.UpdateProfile(ctx, made))(t)
	made.Rev = 2
	if !reflect.DeepEqual(changed, made) || !reflect.DeepEqual(must(s.Profile(ctx, made.ID))(t), made) {
		t.Errorf("changed %+v, want %+v", changed, made)
	}
	_, err = s.UpdateProfile(ctx, old)
	wantKind(t, err, tl.Conflict, "fault.store.changed")
	_, err = s.Profile(ctx, "0000000000000000")
	wantKind(t, err, tl.NotFound, "fault.store.not_found.profile")
}

func TestAKindOfCoatPutAsideIsStillFoundByItsDogs(t *testing.T) {
	s, ctx := newStore(t, Options{}), context.Background()
	first := must(s.CreateProfile(ctx, tl.OwnProfile{Name: "Mine", Doc: []byte(`{}`)}))(t)
	if err := s.TrashProfile(ctx, first.ID); err != nil {
		t.Fatal(err)
	}
	if got := must(s.Profile(ctx, first.ID))(t); got.Trashed.IsZero() {
		t.Errorf("put aside as %+v", got)
	}
	if got := must(s.Profiles(ctx))(t); len(got) != 0 {
		t.Errorf("listed: %+v", got)
	}
	if got := must(s.Trash(ctx))(t); len(got) != 1 || got[0].Kind != "profile" || got[0].Label != "Mine" || got[0].Dog != "" {
		t.Errorf("trash: %+v", got)
	}
	second := must(s.CreateProfile(ctx, tl.OwnProfile{Name: "mine", Doc: []byte(`{}`)}))(t)
	wantKind(t, s.RestoreProfile(ctx, first.ID), tl.Conflict, "fault.store.profile_name_taken")
	if err := s.TrashProfile(ctx, second.ID); err != nil {
		t.Fatal(err)
	}
	if err := s.RestoreProfile(ctx, first.ID); err != nil {
		t.Fatal(err)
	}
	if got := must(s.Profiles(ctx))(t); len(got) != 1 || got[0].ID != first.ID {
		t.Errorf("listed: %+v", got)
	}
}
