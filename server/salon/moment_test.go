package salon

import (
	"fmt"
	"testing"
	"time"

	"thatch/timeline"
)

func TestACorrectedDatePairsThePhotoWithItsNewDay(t *testing.T) {
	s, _ := opened(t)
	d := newDog(t, s, "Bracken", day("2026-05-01"))
	monday := must(s.OpenSession(ctx, d.ID, day("2026-06-08")))
	tuesday := must(s.OpenSession(ctx, d.ID, day("2026-06-09")))
	p := add(t, s, d.ID, "a.jpg", snap(t, 1, "2026-06-08 10:00")).Photo
	if p.Session != monday.ID {
		t.Fatal("not paired with Monday to begin with")
	}
	p = must(s.CorrectDate(ctx, p.ID, p.Rev, "2026-06-09T10:30", false))[0]
	if p.Session != tuesday.ID || p.Moment.Local != "2026-06-09T10:30:00" || p.Moment.Source != timeline.SourceUser {
		t.Fatalf("%+v", p)
	}
	if want := time.Date(2026, 6, 9, 9, 30, 0, 0, time.UTC); !p.Moment.Instant.Equal(want) || p.Moment.OffsetMinutes != 60 {
		t.Errorf("instant %s, offset %d: London is an hour ahead in summer", p.Moment.Instant, p.Moment.OffsetMinutes)
	}
	p = must(s.CorrectDate(ctx, p.ID, p.Rev, "2026-01-09T10:30:15", false))[0]
	if p.Session != "" || p.Moment.OffsetMinutes != 0 {
		t.Errorf("a day without a session, in winter: session %q, offset %d", p.Session, p.Moment.OffsetMinutes)
	}
}

func TestAnUndatedPhotoIsPairedOnceItsDateIsSaid(t *testing.T) {
	s, _ := opened(t)
	d := newDog(t, s, "Bracken", day("2026-05-01"))
	v := must(s.OpenSession(ctx, d.ID, day("2026-06-09")))
	p := add(t, s, d.ID, "a.jpg", snap(t, 1, "")).Photo
	home := must(s.HomePage(ctx))
	if len(home.Waiting) != 1 || home.Waiting[0].Dated {
		t.Fatalf("waiting %+v", home.Waiting)
	}
	if p = must(s.CorrectDate(ctx, p.ID, p.Rev, "2026-06-09T10:30", false))[0]; p.Session != v.ID {
		t.Fatal("not paired")
	}
	if home := must(s.HomePage(ctx)); len(home.Waiting) != 0 {
		t.Fatalf("still waiting %+v", home.Waiting)
	}
}

func TestOneTapShiftsTheOtherPhotosOfThatCamera(t *testing.T) {
	s, _ := opened(t)
	d := newDog(t, s, "Bracken", day("2026-05-01"))
	v := must(s.OpenSession(ctx, d.ID, day("2026-06-09")))
	// A clock that was never set: the camera believes it is the year 2000.
	a := add(t, s, d.ID, "a.jpg", snap(t, 1, "2000-01-01 00:10")).Photo
	b := add(t, s, d.ID, "b.jpg", snap(t, 2, "2000-01-01 01:40")).Photo
	far := add(t, s, d.ID, "far.jpg", snap(t, 3, "2000-02-01 00:10")).Photo
	others := must(s.ShiftCandidates(ctx, a.ID))
	if len(others) != 1 || others[0].ID != b.ID {
		t.Fatalf("offered %v", others)
	}
	changed := must(s.CorrectDate(ctx, a.ID, a.Rev, "2026-06-09T09:00", true))
	if len(changed) != 2 || changed[0].ID != a.ID || changed[1].Moment.Local != "2026-06-09T10:30:00" {
		t.Fatalf("changed %+v", changed)
	}
	for i, phase := range []timeline.Phase{timeline.PhaseStart, timeline.PhaseEnd} {
		if p := changed[i]; p.Session != v.ID || p.Phase != phase {
			t.Errorf("%s: session %q phase %s", p.File, p.Session, p.Phase)
		}
	}
	if p := must(s.Photo(ctx, far.ID)); p.Moment.Local != "2000-02-01T00:10:00" {
		t.Error("a photo of another month was moved")
	}
	if got := must(s.ShiftCandidates(ctx, far.ID)); len(got) != 0 {
		t.Errorf("photos corrected by hand are offered again: %v", got)
	}
}

func TestDatesThatCannotBeAreRefused(t *testing.T) {
	s, _ := opened(t)
	d := newDog(t, s, "Bracken", day("2026-05-01"))
	p := add(t, s, d.ID, "a.jpg", snap(t, 1, "2026-06-08 10:00")).Photo
	for local, key := range map[string]string{
		"2099-01-01T10:00": "fault.photo.date_future", "2026-06-12T10:00": "fault.photo.date_future",
		"yesterday": "fault.photo.date_form", "2026-02-30T10:00": "fault.photo.date_form", "": "fault.photo.date_form", "0026-06-09T10:00": "fault.photo.date_form",
	} {
		_, err := s.CorrectDate(ctx, p.ID, p.Rev, local, false)
		wantFault(t, err, timeline.Invalid, key, "local")
	}
	if q := must(s.Photo(ctx, p.ID)); q.Rev != p.Rev || q.Moment.Local != p.Moment.Local {
		t.Error("a refused date changed the photo")
	}
	_, err := s.CorrectDate(ctx, p.ID, p.Rev+1, "2026-06-09T10:00", false)
	if timeline.KindOf(err) != timeline.Conflict {
		t.Errorf("an old version: %v", err)
	}
}

func TestPhasesAreProposedFromThePausesBetweenPhotos(t *testing.T) {
	const s, d, e = timeline.PhaseStart, timeline.PhaseDuring, timeline.PhaseEnd
	for name, c := range map[string]struct {
		at   []int // minutes
		want []timeline.Phase
	}{
		"no photo":                                {nil, nil},
		"one photo is the start":                  {[]int{0}, []timeline.Phase{s}},
		"a burst is the start":                    {[]int{0, 1, 2, 9}, []timeline.Phase{s, s, s, s}},
		"before and after the work":               {[]int{0, 2, 95, 97}, []timeline.Phase{s, s, e, e}},
		"between two zones":                       {[]int{0, 2, 40, 95, 97}, []timeline.Phase{s, s, d, e, e}},
		"stood up again after sixteen minutes":    {[]int{0, 16, 110}, []timeline.Phase{s, s, e}},
		"fourteen minutes are no work":            {[]int{0, 14}, []timeline.Phase{s, s}},
		"a quarter of an hour may be":             {[]int{0, 15}, []timeline.Phase{s, e}},
		"the order in which they came is no sign": {[]int{97, 0, 95, 2}, []timeline.Phase{e, s, e, s}},
	} {
		t.Run(name, func(t *testing.T) {
			var photos []timeline.Photo
			for i, m := range c.at {
				photos = append(photos, timeline.Photo{ID: timeline.ID(fmt.Sprint(i)), Moment: timeline.Moment{Instant: time.Unix(int64(m)*60, 0)}})
			}
			got := proposedPhases(photos)
			for i, want := range c.want {
				if got[timeline.ID(fmt.Sprint(i))] != want {
					t.Errorf("photo at minute %d: %s, want %s", c.at[i], got[timeline.ID(fmt.Sprint(i))], want)
				}
			}
		})
	}
}

func TestAPersonsWordForThePhaseWins(t *testing.T) {
	s, _ := opened(t)
	d := newDog(t, s, "Bracken", day("2026-05-01"))
	must(s.OpenSession(ctx, d.ID, day("2026-06-09")))
	a := add(t, s, d.ID, "a.jpg", snap(t, 1, "2026-06-09 09:00")).Photo
	a = must(s.SetPhotoFacts(ctx, a.ID, a.Rev, PhotoEdit{Phase: timeline.PhaseDuring}))
	b := add(t, s, d.ID, "b.jpg", snap(t, 2, "2026-06-09 11:00")).Photo
	if got := must(s.Photo(ctx, a.ID)).Phase; got != timeline.PhaseDuring {
		t.Errorf("the word was overruled: %s", got)
	}
	if b.Phase != timeline.PhaseEnd {
		t.Errorf("the later photo is %s", b.Phase)
	}
	if a = must(s.SetPhotoFacts(ctx, a.ID, a.Rev, PhotoEdit{PhaseByTime: true})); a.Phase != timeline.PhaseStart || a.PhaseSaid {
		t.Errorf("taken back, the phase is %s", a.Phase)
	}
}

func TestAPhotoIsPairedByHandWithASessionOfAnyDayOfItsDogOnly(t *testing.T) {
	s, _ := opened(t)
	d, other := newDog(t, s, "Bracken", day("2026-05-01")), newDog(t, s, "Teasel", day("2026-05-01"))
	v := must(s.OpenSession(ctx, d.ID, day("2026-06-01")))
	theirs := must(s.OpenSession(ctx, other.ID, day("2026-06-01")))
	p := add(t, s, d.ID, "a.jpg", snap(t, 1, "2026-06-08 10:00")).Photo
	p = must(s.PairPhoto(ctx, p.ID, p.Rev, v.ID))
	if p.Session != v.ID {
		t.Fatal("not paired")
	}
	_, err := s.PairPhoto(ctx, p.ID, p.Rev, theirs.ID)
	wantFault(t, err, timeline.Invalid, "fault.photo.other_dog", "session")
	if p = must(s.PairPhoto(ctx, p.ID, p.Rev, "")); p.Session != "" {
		t.Fatal("still paired")
	}
}
