package store

import (
	"context"
	"reflect"
	"testing"

	tl "thatch/timeline"
)

func TestCareComesBackAsItWasNoted(t *testing.T) {
	s, ctx := newStore(t, Options{}), context.Background()
	in := fullDog()
	in.Born, in.WithersOn = tl.Date(2025, 9, 3), tl.Date(2026, 4, 2)
	d := must(s.CreateDog(ctx, in))(t)
	if d.Born != in.Born || d.WithersOn != in.WithersOn {
		t.Errorf("born %v, height of %v", d.Born, d.WithersOn)
	}
	show := must(s.CreateShow(ctx, tl.Show{Dog: d.ID, Name: "The show", On: tl.Date(2026, 7, 1), Priority: 1}))(t)
	day := tl.Date(2026, 5, 4)
	for _, err := range []error{
		s.NoteCare(ctx, d.ID, "nails", day-28), s.NoteCare(ctx, d.ID, "nails", day), s.NoteCare(ctx, d.ID, "nails", day), s.NoteCare(ctx, d.ID, "sign_patches", day-3),
		s.SetCareEvery(ctx, d.ID, map[tl.Care]int{tl.CareNails: 21, tl.CareEyes: 0}),
		s.TickBag(ctx, show.ID, "lead", true), s.TickBag(ctx, show.ID, "water", true), s.TickBag(ctx, show.ID, "water", false),
	} {
		if err != nil {
			t.Fatal(err)
		}
	}
	want := tl.Noted{
		Last: map[string]tl.Day{"nails": day, "sign_patches": day - 3}, Every: map[tl.Care]int{tl.CareNails: 21, tl.CareEyes: 0},
		Bags: map[tl.ID][]tl.BagItem{show.ID: {"lead"}},
	}
	if got := must(s.NotedOf(ctx, d.ID))(t); !reflect.DeepEqual(got, want) {
		t.Errorf("%+v, want %+v", got, want)
	}
	// The undo of the second tap leaves the one before it; twice is once.
	for range 2 {
		if err := s.TakeBackCare(ctx, d.ID, "nails", day); err != nil {
			t.Fatal(err)
		}
	}
	if err := s.SetCareEvery(ctx, d.ID, nil); err != nil {
		t.Fatal(err)
	}
	want.Last["nails"], want.Every = day-28, map[tl.Care]int{}
	if got := must(s.NotedOf(ctx, d.ID))(t); !reflect.DeepEqual(got, want) {
		t.Errorf("after the undo: %+v, want %+v", got, want)
	}
	if got := must(s.NotedOf(ctx, "0000000000000000"))(t); len(got.Last)+len(got.Every)+len(got.Bags) != 0 {
		t.Errorf("of nobody: %+v", got)
	}
	if err := s.NoteCare(ctx, "0000000000000000", "nails", day); err == nil {
		t.Error("care of a dog that is not there is noted")
	}
}

func TestCareCountsAsAChangeOfItsDogAlone(t *testing.T) {
	s, ctx := newStore(t, Options{}), context.Background()
	d := must(s.CreateDog(ctx, fullDog()))(t)
	other := fullDog()
	other.Name = "Another"
	o := must(s.CreateDog(ctx, other))(t)
	show := must(s.CreateShow(ctx, tl.Show{Dog: d.ID, Name: "The show", On: tl.Date(2026, 7, 1), Priority: 1}))(t)
	day := tl.Date(2026, 5, 4)
	for _, c := range []struct {
		name string
		do   func() error
	}{
		{"care", func() error { return s.NoteCare(ctx, d.ID, "ears", day) }},
		{"care taken back", func() error { return s.TakeBackCare(ctx, d.ID, "ears", day) }},
		{"an interval", func() error { return s.SetCareEvery(ctx, d.ID, map[tl.Care]int{tl.CareEars: 7}) }},
		{"another interval", func() error { return s.SetCareEvery(ctx, d.ID, map[tl.Care]int{tl.CareEars: 9}) }},
		{"the usual interval", func() error { return s.SetCareEvery(ctx, d.ID, nil) }},
		{"a tick of the bag", func() error { return s.TickBag(ctx, show.ID, "lead", true) }},
		{"the tick taken away", func() error { return s.TickBag(ctx, show.ID, "lead", false) }},
	} {
		was, wasOther, wasPhotos := must(s.Stamp(ctx, d.ID))(t), must(s.Stamp(ctx, o.ID))(t), must(s.PhotoStamp(ctx, d.ID))(t)
		if err := c.do(); err != nil {
			t.Fatal(err)
		}
		if must(s.Stamp(ctx, d.ID))(t) == was {
			t.Errorf("%s: the stamp stays", c.name)
		}
		if must(s.Stamp(ctx, o.ID))(t) != wasOther || must(s.PhotoStamp(ctx, d.ID))(t) != wasPhotos {
			t.Errorf("%s: another stamp changes", c.name)
		}
	}
}

func TestALimitOfTheHandsIsOfOnePerson(t *testing.T) {
	s, ctx := newStore(t, Options{}), context.Background()
	for person, minutes := range map[tl.ID]int{"": 300, "0123456789abcdef": 240} {
		if got := must(s.HandsLimit(ctx, person))(t); got != 0 {
			t.Errorf("%q has a limit of %d before she set one", person, got)
		}
		if err := s.SetHandsLimit(ctx, person, minutes); err != nil {
			t.Fatal(err)
		}
	}
	if a, b := must(s.HandsLimit(ctx, ""))(t), must(s.HandsLimit(ctx, "0123456789abcdef"))(t); a != 300 || b != 240 {
		t.Errorf("%d and %d minutes", a, b)
	}
}

func TestWhoWroteIntoASessionIsToldFromTheLog(t *testing.T) {
	s := newStore(t, Options{})
	as := func(person tl.ID) context.Context {
		return tl.WithVisitor(context.Background(), tl.Visitor{Person: person, Name: "Somebody"})
	}
	d := must(s.CreateDog(as(""), fullDog()))(t)
	v := must(s.CreateSession(as("0123456789abcdef"), tl.Session{Dog: d.ID, On: tl.Date(2026, 5, 1)}))(t)
	w := must(s.CreateSession(as("fedcba9876543210"), tl.Session{Dog: d.ID, On: tl.Date(2026, 5, 2)}))(t)
	must(s.UpdateSession(as("0123456789abcdef"), w))(t)
	since := tl.DayOf(s.now().UTC()) - 1
	if got := must(s.SessionsWrittenBy(context.Background(), "0123456789abcdef", since))(t); !reflect.DeepEqual(got, map[tl.ID]bool{v.ID: true, w.ID: true}) {
		t.Errorf("the first wrote into %v", got)
	}
	if got := must(s.SessionsWrittenBy(context.Background(), "fedcba9876543210", since))(t); !reflect.DeepEqual(got, map[tl.ID]bool{w.ID: true}) {
		t.Errorf("the second wrote into %v", got)
	}
	if got := must(s.SessionsWrittenBy(context.Background(), "fedcba9876543210", since+3))(t); len(got) != 0 {
		t.Errorf("since tomorrow: %v", got)
	}
}

func TestWhoWroteIsReadOnFromWhereItWasRead(t *testing.T) {
	s := newStore(t, Options{})
	const me = tl.ID("0123456789abcdef")
	ctx := tl.WithVisitor(context.Background(), tl.Visitor{Person: me, Name: "Somebody"})
	d := must(s.CreateDog(ctx, fullDog()))(t)
	since := tl.DayOf(s.now().UTC()) - 1
	want := map[tl.ID]bool{}
	var before map[tl.ID]bool
	for i := range 4 {
		v := must(s.CreateSession(ctx, tl.Session{Dog: d.ID, On: tl.Date(2026, 5, 1) + tl.Day(i)}))(t)
		must(s.UpdateSession(ctx, v))(t)
		before = must(s.SessionsWrittenBy(context.Background(), me, since))(t)
		if want[v.ID] = true; !reflect.DeepEqual(before, want) {
			t.Fatalf("after %d: %v, want %v", i, before, want)
		}
		if again := must(s.SessionsWrittenBy(context.Background(), me, since))(t); !reflect.DeepEqual(again, want) {
			t.Fatalf("asked again after %d: %v", i, again)
		}
	}
	w := must(s.CreateSession(ctx, tl.Session{Dog: d.ID, On: tl.Date(2026, 6, 1)}))(t)
	if got := must(s.SessionsWrittenBy(context.Background(), me, since))(t); !got[w.ID] || before[w.ID] {
		t.Errorf("the answer has it: %v; the one before, which others may hold: %v", got[w.ID], before[w.ID])
	}
	if got := must(s.SessionsWrittenBy(context.Background(), me, since+3))(t); len(got) != 0 {
		t.Errorf("of another day: %v", got)
	}
	if got := must(s.SessionsWrittenBy(context.Background(), me, since))(t); len(got) != len(want)+1 {
		t.Errorf("of the first day again: %v", got)
	}
}
