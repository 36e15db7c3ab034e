package store

import (
	"context"
	"strings"
	"testing"
	"time"

	tl "thatch/timeline"
)

func onceKey(c string) Once { return Once{Key: strings.Repeat(c, 32), Person: "p", Asked: "a"} }

func TestAKeyIsNotedWithWhatItDidOrNotAtAll(t *testing.T) {
	s := newStore(t, Options{})
	ctx := WithOnce(context.Background(), onceKey("a"))
	if _, err := s.CreateDog(ctx, tl.Dog{}); err == nil {
		t.Fatal("a dog without a name is taken")
	}
	if _, seen, err := s.OnceOf(ctx, onceKey("a").Key); seen || err != nil {
		t.Errorf("a refused change noted its key: %v, %v", seen, err)
	}
	d := must(s.CreateDog(ctx, fullDog()))(t)
	v, seen, err := s.OnceOf(ctx, onceKey("a").Key)
	if !seen || err != nil || v.Person != "p" || v.Asked != "a" || v.Answer != "" || v.At.IsZero() {
		t.Errorf("%+v, %v, %v", v, seen, err)
	}
	// The same request goes on to a second change under the same key; another request may not use it.
	if _, err := s.UpdateDog(ctx, d); err != nil {
		t.Errorf("the second change of one action: %v", err)
	}
	other := fullDog()
	other.Name = "Another"
	_, err = s.CreateDog(WithOnce(context.Background(), onceKey("a")), other)
	wantKind(t, err, tl.Conflict, "fault.store.once")
	if _, err := s.DogByName(ctx, "Another"); tl.KindOf(err) != tl.NotFound {
		t.Errorf("what was refused for its key is there: %v", err)
	}
	if err := s.AnswerOnce(ctx, onceKey("a"), "yes"); err != nil {
		t.Fatal(err)
	}
	if v, _, _ := s.OnceOf(ctx, onceKey("a").Key); v.Answer != "yes" {
		t.Errorf("the answer is %q", v.Answer)
	}
}

func TestHousekeepingUsesNoKeyUp(t *testing.T) {
	s := newStore(t, Options{})
	ctx := WithOnce(context.Background(), onceKey("b"))
	if _, err := s.Tidy(ctx); err != nil {
		t.Fatal(err)
	}
	if _, seen, _ := s.OnceOf(ctx, onceKey("b").Key); seen {
		t.Error("emptying the trash noted a key")
	}
}

func TestKeysAreRememberedForThirtyDaysAtLeastAndNotForEver(t *testing.T) {
	now := noon
	s := newStore(t, Options{Now: func() time.Time { return now }})
	ctx := context.Background()
	if err := s.AnswerOnce(ctx, onceKey("c"), "yes"); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		days int
		seen bool
	}{{30, true}, {39, true}, {41, false}} {
		now = noon.AddDate(0, 0, c.days)
		if _, err := s.Tidy(ctx); err != nil {
			t.Fatal(err)
		}
		if _, seen, _ := s.OnceOf(ctx, onceKey("c").Key); seen != c.seen {
			t.Errorf("after %d days the key is known: %v", c.days, seen)
		}
	}
}
