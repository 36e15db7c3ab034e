package salon

import (
	"errors"
	"io"
	"strings"
	"sync"
	"sync/atomic"
	"testing"

	"thatch/timeline"
)

func TestAClientsPageShowsHerDogUntilItIsWithdrawn(t *testing.T) {
	s, c := opened(t)
	d := newDog(t, s, "Bracken", day("2026-05-01"))
	other := newDog(t, s, "Teasel", day("2026-05-01"))
	v := must(s.OpenSession(ctx, d.ID, day("2026-06-03")))
	must(s.SaveSession(ctx, SessionEdit{ID: v.ID, Rev: v.Rev, Note: "private", Next: day("2026-06-17"), Work: []timeline.ZoneWork{{Zone: timeline.Back, Do: timeline.Tidy}, {Zone: timeline.Ears, Do: timeline.Leave}}}))
	must(s.AddShow(ctx, timeline.Show{Dog: d.ID, Name: "Fair", On: day("2026-07-01")}))
	start := add(t, s, d.ID, "a.jpg", snap(t, 1, "2026-06-03 09:00")).Photo
	end := add(t, s, d.ID, "b.jpg", snap(t, 2, "2026-06-03 11:00")).Photo
	waiting := add(t, s, d.ID, "c.jpg", snap(t, 3, "2026-06-04 11:00")).Photo
	must(s.OpenSession(ctx, other.ID, day("2026-06-03")))
	theirs := add(t, s, other.ID, "d.jpg", snap(t, 4, "2026-06-03 09:00")).Photo
	for job := must(s.st.ClaimJob(ctx, c.now())); job != nil; job = must(s.st.ClaimJob(ctx, c.now())) {
		ok(s.RunJob(ctx, *job))
		ok(s.st.FinishJob(ctx, job.ID))
	}
	token, link, err := s.MakeLink(ctx, d.ID, "Number Nine")
	ok(err)
	if len(token) != 43 || strings.Contains(link.TokenHash, token) || must(s.Links(ctx, d.ID))[0].TokenHash == token {
		t.Fatal("the token is kept")
	}
	page := must(s.SharedPage(ctx, token))
	if page.DogName != "Bracken" || page.SalonName != "The Shed" || page.Next != day("2026-06-17") || page.DaysToShow != 21 || len(page.Visits) != 1 || len(page.Visits[0].Photos) != 2 {
		t.Fatalf("%+v", page)
	}
	if g := page.Visits[0].Groups; len(g) != 1 || g[0] != timeline.GroupJacket {
		t.Errorf("worked %v: what was left is not worked", g)
	}
	if page.Before == nil || page.Before.ID != start.ID || page.After.ID != end.ID || page.Aligned || page.OnTrack+page.Tight+page.TooLate == 0 {
		t.Errorf("before %v, after %v, aligned %v, %d zones told", page.Before, page.After, page.Aligned, page.OnTrack+page.Tight+page.TooLate)
	}
	pic := must(s.SharedPicture(ctx, token, start.ID, PictureView))
	must(io.Copy(io.Discard, pic))
	pic.Close()
	refused := func(what string, token string, photo timeline.ID, kind PictureKind) {
		t.Helper()
		if _, err := s.SharedPicture(ctx, token, photo, kind); timeline.KindOf(err) != timeline.NotFound || faultOf(err).Say.Key != "fault.not_found" {
			t.Errorf("%s: %v", what, err)
		}
	}
	refused("the original with its metadata", token, start.ID, PictureOriginal)
	refused("another dog's photo", token, theirs.ID, PictureView)
	refused("a photo of no session", token, waiting.ID, PictureView)
	refused("no photo", token, "nothing", PictureView)
	refused("a guessed token", strings.Repeat("A", 43), start.ID, PictureView)
	refused("no token", "", start.ID, PictureView)

	gone := func(what string) {
		t.Helper()
		_, err := s.SharedPage(ctx, token)
		if f := faultOf(err); f == nil || f.Kind != timeline.NotFound || f.Say.String() != "fault.not_found" {
			t.Errorf("%s: %v", what, err)
		}
		refused(what, token, start.ID, PictureView)
		if _, err := s.SharedAligned(ctx, token); timeline.KindOf(err) != timeline.NotFound {
			t.Errorf("%s: aligned %v", what, err)
		}
	}
	ok(s.TrashDog(ctx, d.ID))
	gone("her dog is in the trash")
	ok(s.RestoreDog(ctx, d.ID))
	d = must(s.Dog(ctx, d.ID))
	d.ShareOK = false
	d = must(s.UpdateDog(ctx, d))
	gone("the client does not agree any more")
	_, _, err = s.MakeLink(ctx, d.ID, "Number Nine")
	wantFault(t, err, timeline.Invalid, "fault.link.consent", "share_ok")
	d.ShareOK = true
	must(s.UpdateDog(ctx, d))
	must(s.SharedPage(ctx, token))
	today := must(s.Today(ctx))
	c.set(today + linkDays)
	gone("it has expired")
	c.set(today)
	must(s.SharedPage(ctx, token))
	ok(s.WithdrawLink(ctx, link.ID))
	gone("it was withdrawn")
}

func TestAMemoComputesOnceForgetsTheOldestAndKeepsNoError(t *testing.T) {
	m := newMemo[int](2)
	var made atomic.Int32
	get := func(key string, v int, err error) (int, error) {
		return m.get(key, func() (int, error) { made.Add(1); return v, err })
	}
	var wg sync.WaitGroup
	for range 16 {
		wg.Go(func() {
			if v, err := get("a", 1, nil); v != 1 || err != nil {
				t.Errorf("got %d, %v", v, err)
			}
		})
	}
	wg.Wait()
	if made.Load() != 1 {
		t.Fatalf("computed %d times", made.Load())
	}
	if _, err := get("b", 0, errors.New("no")); err == nil {
		t.Error("the error was swallowed")
	}
	if v, err := get("b", 2, nil); v != 2 || err != nil {
		t.Error("an error was kept")
	}
	func() {
		defer func() { _ = recover() }()
		_, _ = m.get("d", func() (int, error) { panic("trouble") })
	}()
	if _, err := m.get("d", func() (int, error) { return 4, nil }); err == nil {
		t.Error("a panic was taken for an answer")
	}
	if v, err := m.get("d", func() (int, error) { return 4, nil }); v != 4 || err != nil {
		t.Error("a panic was kept")
	}
	must(get("b", 2, nil))
	must(get("a", 1, nil)) // used again: younger than b
	must(get("c", 3, nil))
	made.Store(0)
	must(get("a", 1, nil))
	must(get("b", 2, nil))
	if made.Load() != 1 {
		t.Errorf("%d computed again, want b alone", made.Load())
	}
}
