package store

import (
	"context"
	"reflect"
	"slices"
	"sync"
	"testing"
	"time"

	tl "thatch/timeline"
)

func fullDog() tl.Dog {
	return tl.Dog{
		Name: "Bracken", Client: "the Tuesday people", Profile: "rough", Texture: tl.TextureHarsh, WithersMM: 385.5,
		Answers: tl.Answers{On: tl.Date(2026, 5, 1), LastWorked: tl.Date(2026, 1, 10), Rolled: true, Undercoat: tl.UndercoatHeavy, LongestWithersMM: 62.5},
		Pinched: &tl.PinchTest{On: tl.Date(2026, 5, 1), Is: map[tl.Group]tl.Ripeness{tl.GroupJacket: tl.Blown, tl.GroupHead: tl.Coming}}, History: tl.History{EverClipped: true, CoatChange: true},
		Sensitive: []tl.Zone{tl.Belly, tl.Ears}, Notes: "brings her own towel",
		Cadence: tl.Cadence{Next: tl.Date(2026, 5, 15), EveryDays: 14, Minutes: 90, Days: []tl.BookedDay{{On: tl.Date(2026, 5, 29), Skip: true}, {On: tl.Date(2026, 6, 1), Extra: true, Minutes: 20}}},
		Kept:    &tl.Kept{Rev: 3, At: time.Date(2026, 5, 2, 9, 0, 0, 0, time.UTC), Kind: "minutes", Figure: 45, Cadence: tl.Cadence{EveryDays: 14, Minutes: 90}},
		ShareOK: true,
	}
}

func fullSheet() tl.SheetState {
	at := time.Date(2026, 5, 1, 9, 30, 0, 0, time.UTC)
	return tl.SheetState{
		Order: []tl.Zone{tl.Rump, tl.Back}, Ticked: []string{"care"}, Assistant: []tl.Zone{tl.Rump},
		Looked: at.Add(2 * time.Hour), Begun: at, Done: at.Add(3 * time.Hour),
	}
}

func TestADogComesBackAsItWasKept(t *testing.T) {
	s, ctx := newStore(t, Options{}), context.Background()
	in := fullDog()
	made := must(s.CreateDog(ctx, in))(t)
	in.ID, in.Rev, in.Added = made.ID, 1, made.Added
	if len(in.ID) != 16 || in.Added.IsZero() {
		t.Errorf("ID %q, added %v", in.ID, in.Added)
	}
	for how, got := range map[string]tl.Dog{"made": made, "by ID": must(s.Dog(ctx, in.ID))(t), "by name": must(s.DogByName(ctx, "  bRACKEN "))(t)} {
		if !reflect.DeepEqual(got, in) {
			t.Errorf("%s: %+v, want %+v", how, got, in)
		}
	}
	in.Name, in.Notes, in.Sensitive, in.Answers, in.Pinched, in.History = "Bracken the second", "", nil, tl.Answers{}, nil, tl.History{Neutered: true}
	changed := must(s.UpdateDog(ctx, in))(t)
	in.Rev, in.Sensitive = 2, []tl.Zone{}
	if !reflect.DeepEqual(changed, in) {
		t.Errorf("changed: %+v, want %+v", changed, in)
	}
}

func TestAChangeMadeFromAnOldVersionIsAConflict(t *testing.T) {
	s, ctx := newStore(t, Options{}), context.Background()
	d := must(s.CreateDog(ctx, fullDog()))(t)
	_ = must(s.UpdateDog(ctx, d))(t)
	_, err := s.UpdateDog(ctx, d)
	wantKind(t, err, tl.Conflict, "fault.store.changed")

	v := must(s.CreateSession(ctx, tl.Session{Dog: d.ID, On: tl.Date(2026, 5, 1)}))(t)
	_ = must(s.UpdateSession(ctx, v))(t)
	_, err = s.UpdateSession(ctx, v)
	wantKind(t, err, tl.Conflict, "fault.store.changed")

	w := must(s.CreateShow(ctx, tl.Show{Dog: d.ID, Name: "Spring", On: tl.Date(2026, 6, 1)}))(t)
	_ = must(s.UpdateShow(ctx, w))(t)
	_, err = s.UpdateShow(ctx, w)
	wantKind(t, err, tl.Conflict, "fault.store.changed")

	set := must(s.Settings(ctx))(t)
	set.Zone, set.Units, set.HourCents, set.Currency = "Europe/Berlin", "in", 4550, "kr"
	saved := must(s.SaveSettings(ctx, set))(t)
	if got := must(s.Settings(ctx))(t); got != saved || got.Rev != 2 {
		t.Errorf("settings %+v, saved %+v", got, saved)
	}
	_, err = s.SaveSettings(ctx, set)
	wantKind(t, err, tl.Conflict, "fault.store.changed")

	_, err = s.UpdateDog(ctx, tl.Dog{ID: "0000000000000000", Rev: 1, Name: "Nobody"})
	wantKind(t, err, tl.NotFound, "fault.store.not_found.dog")
}

func TestANameIsGivenOnceInAnyCase(t *testing.T) {
	s, ctx := newStore(t, Options{}), context.Background()
	first := must(s.CreateDog(ctx, tl.Dog{Name: "Straße Ünder"}))(t)
	for _, name := range []string{"straße ünder", "STRASSE  ÜNDER", "Straße U\u0308nder"} {
		_, err := s.CreateDog(ctx, tl.Dog{Name: name})
		wantKind(t, err, tl.Conflict, "fault.store.dog_exists")
	}
	if err := s.TrashDog(ctx, first.ID); err != nil {
		t.Fatal(err)
	}
	second := must(s.CreateDog(ctx, tl.Dog{Name: "straße ünder"}))(t)
	wantKind(t, s.RestoreDog(ctx, first.ID), tl.Conflict, "fault.store.restore_name_taken")
	if got := must(s.DogByName(ctx, "Straße Ünder"))(t); got.ID != second.ID {
		t.Error("the name finds the dog in the trash")
	}
	_, err := s.CreateDog(ctx, tl.Dog{Name: " \t "})
	wantKind(t, err, tl.Invalid, "fault.store.name_empty")
}

func TestADogInTheTrashIsHiddenAndComesBack(t *testing.T) {
	s, ctx := newStore(t, Options{}), context.Background()
	d := must(s.CreateDog(ctx, fullDog()))(t)
	if err := s.TrashDog(ctx, d.ID); err != nil {
		t.Fatal(err)
	}
	first := must(s.Dog(ctx, d.ID))(t).Trashed
	if err := s.TrashDog(ctx, d.ID); err != nil {
		t.Fatal(err)
	}
	if got := must(s.Dog(ctx, d.ID))(t).Trashed; first.IsZero() || !got.Equal(first) {
		t.Errorf("trashed %v, then %v", first, got)
	}
	if n := len(must(s.Dogs(ctx, false))(t)); n != 0 {
		t.Errorf("%d dogs are listed", n)
	}
	if n := len(must(s.Dogs(ctx, true))(t)); n != 1 {
		t.Errorf("%d dogs with the trash", n)
	}
	_, err := s.DogByName(ctx, "Bracken")
	wantKind(t, err, tl.NotFound, "fault.store.no_dog_named")
	_, err = s.UpdateDog(ctx, d)
	wantKind(t, err, tl.Conflict, "fault.store.in_trash")
	if got := must(s.Trash(ctx))(t); len(got) != 1 || got[0].Kind != "dog" || got[0].Label != "Bracken" {
		t.Errorf("trash: %+v", got)
	}
	if err := s.RestoreDog(ctx, d.ID); err != nil {
		t.Fatal(err)
	}
	if got := must(s.Dog(ctx, d.ID))(t); !reflect.DeepEqual(got, d) {
		t.Errorf("came back as %+v, want %+v", got, d)
	}
}

func TestASessionComesBackWithItsWorkInAnatomicalOrder(t *testing.T) {
	s, ctx := newStore(t, Options{}), context.Background()
	d := must(s.CreateDog(ctx, fullDog()))(t)
	in := tl.Session{Dog: d.ID, On: tl.Date(2026, 5, 1), Minutes: 75, Loft: tl.LoftSome, Note: "calm", Sheet: fullSheet(), Work: []tl.ZoneWork{
		{Zone: tl.Feet, Do: tl.Scissor, Tool: "scissors"},
		{Zone: tl.Back, Do: tl.Take, Share: tl.ShareThird, TopLayer: true, Tool: "knife_medium", Ripeness: tl.Ready, HairCheck: tl.HairWhole, Skin: tl.SkinFine, Cover: tl.CoverThin, Remark: "slides"},
		{Zone: tl.Skull, Do: tl.Leave},
	}, Tolerance: tl.NeededBreaks, Breaks: 3, NotToday: tl.OffInSeason, Before: &tl.Before{
		Rev: 7, Step: "back", Count: 2, Minutes: 12, Loft: tl.LoftWoolly, Note: "was", Work: []tl.ZoneWork{{Zone: tl.Back, Do: tl.Tidy}},
		Tolerance: tl.Restless, Breaks: 1, NotToday: tl.OffOther, Sheet: fullSheet(),
	}}
	made := must(s.CreateSession(ctx, in))(t)
	in.ID, in.Rev = made.ID, 1
	in.Work = []tl.ZoneWork{in.Work[2], in.Work[1], in.Work[0]}
	older := must(s.CreateSession(ctx, tl.Session{Dog: d.ID, On: tl.Date(2026, 4, 17)}))(t)
	for how, got := range map[string]tl.Session{"made": made, "by ID": must(s.Session(ctx, in.ID))(t), "by day": must(s.SessionOn(ctx, d.ID, in.On))(t), "listed": must(s.Sessions(ctx, d.ID))(t)[1]} {
		if !reflect.DeepEqual(got, in) {
			t.Errorf("%s: %+v, want %+v", how, got, in)
		}
	}
	if got := must(s.Sessions(ctx, d.ID))(t)[0]; got.ID != older.ID {
		t.Error("not oldest first")
	}
	in.Work = in.Work[:1]
	if got := must(s.UpdateSession(ctx, in))(t); len(got.Work) != 1 || got.Work[0].Zone != tl.Skull {
		t.Errorf("the lines were not replaced: %+v", got.Work)
	}
	for _, v := range []tl.Session{{Tolerance: "bored"}, {Breaks: -1}, {NotToday: "bored"}} {
		v.Dog, v.On = d.ID, tl.Date(2026, 6, 1)
		_, err := s.CreateSession(ctx, v)
		wantKind(t, err, tl.Invalid, "fault.store.value")
	}
	_, err := s.CreateSession(ctx, tl.Session{Dog: d.ID, On: tl.Date(2026, 5, 1)})
	wantKind(t, err, tl.Conflict, "fault.store.session_exists")
	_, err = s.SessionOn(ctx, d.ID, tl.Date(2026, 5, 2))
	wantKind(t, err, tl.NotFound, "fault.store.not_found.session")
}

func TestNonsenseIsRefusedByNameAndNothingIsKept(t *testing.T) {
	s, ctx := newStore(t, Options{}), context.Background()
	d := must(s.CreateDog(ctx, fullDog()))(t)
	work := func(w ...tl.ZoneWork) error {
		_, err := s.CreateSession(ctx, tl.Session{Dog: d.ID, On: tl.Date(2026, 5, 1), Work: w})
		return err
	}
	wantKind(t, work(tl.ZoneWork{Zone: "wing", Do: tl.Take}), tl.Invalid, "fault.store.zone_unknown")
	wantKind(t, work(tl.ZoneWork{Zone: tl.Back}, tl.ZoneWork{Zone: tl.Back}), tl.Invalid, "fault.store.zone_twice")
	wantKind(t, work(tl.ZoneWork{Zone: tl.Back, Do: tl.Take, Share: 1.5}), tl.Invalid, "fault.store.share")
	wantKind(t, work(tl.ZoneWork{Zone: tl.Back, Do: "shave"}), tl.Invalid, "fault.store.value")
	wantKind(t, work(tl.ZoneWork{Zone: tl.Back, Do: tl.Take, Tool: "axe"}), tl.Invalid, "fault.store.reference")
	_, err := s.CreateSession(ctx, tl.Session{Dog: "nobody", On: tl.Date(2026, 5, 1)})
	wantKind(t, err, tl.Invalid, "fault.store.reference")
	if n := len(must(s.Sessions(ctx, d.ID))(t)); n != 0 {
		t.Errorf("%d sessions were kept", n)
	}
	_, err = s.AddReadings(ctx, []tl.Reading{{Dog: d.ID, Zone: tl.Back, On: tl.Date(2026, 5, 1), LengthMM: 20}, {Dog: d.ID, Zone: "wing", On: tl.Date(2026, 5, 1), LengthMM: 20}})
	wantKind(t, err, tl.Invalid, "fault.store.zone_unknown")
	_, err = s.AddReadings(ctx, []tl.Reading{{Dog: d.ID, Zone: tl.Back, On: tl.Date(2026, 5, 1), LengthMM: -1}})
	wantKind(t, err, tl.Invalid, "fault.store.reading_range")
	if n := len(must(s.Readings(ctx, d.ID))(t)); n != 0 {
		t.Errorf("%d readings were kept", n)
	}
	_, err = s.CreateShow(ctx, tl.Show{Dog: d.ID, Name: "Spring", On: tl.Date(2026, 6, 1), Targets: map[tl.Zone]tl.Range{tl.Back: {MinMM: 30, MaxMM: 20}}})
	wantKind(t, err, tl.Invalid, "fault.store.target_range")
	bad := fullDog()
	bad.Name, bad.WithersMM = "Giant", 1e6
	_, err = s.CreateDog(ctx, bad)
	wantKind(t, err, tl.Invalid, "fault.store.value")
}

func TestReadingsShowsAndLinksComeBack(t *testing.T) {
	s, ctx := newStore(t, Options{}), context.Background()
	d := must(s.CreateDog(ctx, fullDog()))(t)
	v := must(s.CreateSession(ctx, tl.Session{Dog: d.ID, On: tl.Date(2026, 5, 1)}))(t)
	day := tl.Date(2026, 5, 1)
	made := must(s.AddReadings(ctx, []tl.Reading{
		{Dog: d.ID, Session: v.ID, Zone: tl.Loin, On: day, LengthMM: 31.5, SDMM: 2},
		{Dog: d.ID, Zone: tl.Withers, On: day, LengthMM: 33},
		{Dog: d.ID, Zone: tl.Loin, On: day - 14, LengthMM: 26},
	}))(t)
	got := must(s.Readings(ctx, d.ID))(t)
	if want := []tl.Reading{made[2], made[1], made[0]}; !reflect.DeepEqual(got, want) {
		t.Errorf("readings %+v, want %+v", got, want)
	}
	if got[1].SDMM != 1 || got[2].Session != v.ID {
		t.Errorf("sd %v, session %q", got[1].SDMM, got[2].Session)
	}
	if err := s.TrashReading(ctx, made[0].ID); err != nil {
		t.Fatal(err)
	}
	if n := len(must(s.Readings(ctx, d.ID))(t)); n != 2 {
		t.Errorf("%d readings beside the trash", n)
	}
	if err := s.RestoreReading(ctx, made[0].ID); err != nil {
		t.Fatal(err)
	}

	in := tl.Show{Dog: d.ID, Name: "Spring", On: day + 40, Targets: map[tl.Zone]tl.Range{tl.Back: {MinMM: 12, MaxMM: 40}, tl.Skull: {MaxMM: 10}}}
	w := must(s.CreateShow(ctx, in))(t)
	in.ID, in.Rev, in.Priority = w.ID, 1, 1
	for how, got := range map[string]tl.Show{"made": w, "by ID": must(s.Show(ctx, w.ID))(t), "listed": must(s.Shows(ctx, d.ID))(t)[0]} {
		if !reflect.DeepEqual(got, in) {
			t.Errorf("show %s: %+v, want %+v", how, got, in)
		}
	}
	if err := s.TrashShow(ctx, w.ID); err != nil {
		t.Fatal(err)
	}
	if got := must(s.Shows(ctx, d.ID))(t); got == nil || len(got) != 0 {
		t.Errorf("shows beside the trash: %#v", got)
	}

	hash := "00112233445566778899aabbccddeeff00112233445566778899aabbccddeeff"
	l := must(s.CreateLink(ctx, tl.Link{Dog: d.ID, For: "her people", TokenHash: hash, Expires: noon.Add(time.Hour)}))(t)
	if err := s.WithdrawLink(ctx, l.ID); err != nil {
		t.Fatal(err)
	}
	back := must(s.LinkByHash(ctx, hash))(t)
	if back.Withdrawn.IsZero() || back.For != l.For || !back.Expires.Equal(noon.Add(time.Hour)) {
		t.Errorf("link %+v", back)
	}
	if err := s.WithdrawLink(ctx, l.ID); err != nil {
		t.Fatal(err)
	}
	if again := must(s.Links(ctx, d.ID))(t); !again[0].Withdrawn.Equal(back.Withdrawn) {
		t.Error("withdrawn twice moves the time")
	}
	_, err := s.LinkByHash(ctx, "no such")
	wantKind(t, err, tl.NotFound, "fault.store.not_found.link")
}

func TestAnEmptySalonAnswersWithEmptyLists(t *testing.T) {
	s, ctx := newStore(t, Options{}), context.Background()
	if v := must(s.Dogs(ctx, true))(t); v == nil || len(v) != 0 {
		t.Error("dogs")
	}
	if v := must(s.Photos(ctx, "x"))(t); v == nil || len(v) != 0 {
		t.Error("photos")
	}
	if v := must(s.Sessions(ctx, "x"))(t); v == nil || len(v) != 0 {
		t.Error("sessions")
	}
	if v := must(s.Readings(ctx, "x"))(t); v == nil || len(v) != 0 {
		t.Error("readings")
	}
	if v := must(s.Shows(ctx, "x"))(t); v == nil || len(v) != 0 {
		t.Error("shows")
	}
	if v := must(s.Links(ctx, "x"))(t); v == nil || len(v) != 0 {
		t.Error("links")
	}
	if v := must(s.Profiles(ctx))(t); v == nil || len(v) != 0 {
		t.Error("kinds of coat")
	}
	if v := must(s.Trash(ctx))(t); v == nil || len(v) != 0 {
		t.Error("trash")
	}
}

func TestJobsSurviveAndAreDoneOnce(t *testing.T) {
	s, ctx := newStore(t, Options{}), context.Background()
	now := noon.Add(time.Hour)
	if err := s.EnqueueJobs(ctx, Job{Kind: KindDerive, Key: "a"}, Job{Kind: KindDerive, Key: "b"}, Job{Kind: KindDerive, Key: "a"}); err != nil {
		t.Fatal(err)
	}
	select {
	case <-s.Woken():
	default:
		t.Error("nobody was woken")
	}
	if n := must(s.PendingJobs(ctx))(t); n != 2 {
		t.Fatalf("%d jobs wait, want 2", n)
	}
	a, b := must(s.ClaimJob(ctx, now))(t), must(s.ClaimJob(ctx, now))(t)
	if a == nil || b == nil || a.Key != "a" || b.Key != "b" || a.Attempts != 1 {
		t.Fatalf("claimed %+v, %+v", a, b)
	}
	if c := must(s.ClaimJob(ctx, now))(t); c != nil {
		t.Errorf("a claimed job was claimed again: %+v", c)
	}
	if err := s.FinishJob(ctx, a.ID); err != nil {
		t.Fatal(err)
	}
	if err := s.FailJob(ctx, b.ID, now.Add(time.Minute), context.DeadlineExceeded); err != nil {
		t.Fatal(err)
	}
	if c := must(s.ClaimJob(ctx, now))(t); c != nil {
		t.Error("retried too early")
	}
	later := now.Add(2 * time.Minute)
	if c := must(s.ClaimJob(ctx, later))(t); c == nil || c.Key != "b" || c.Attempts != 2 {
		t.Fatalf("retry: %+v", c)
	}
	if err := s.ReleaseJobs(ctx); err != nil { // the process died with the claim
		t.Fatal(err)
	}
	if c := must(s.ClaimJob(ctx, later))(t); c == nil || c.Attempts != 3 {
		t.Fatalf("after a restart: %+v", c)
	}
	if c := must(s.ClaimJob(ctx, later.Add(claimFor)))(t); c == nil {
		t.Fatal("a claim holds for ever")
	}
	if err := s.FailJob(ctx, b.ID, time.Time{}, nil); err != nil {
		t.Fatal(err)
	}
	if n := must(s.PendingJobs(ctx))(t); n != 0 {
		t.Errorf("%d jobs wait after the last was given up", n)
	}
	if err := s.EnqueueJobs(ctx, Job{Kind: KindDerive, Key: "b"}); err != nil {
		t.Fatal(err)
	}
	if c := must(s.ClaimJob(ctx, later.Add(time.Hour)))(t); c == nil || c.Attempts != 1 {
		t.Errorf("asked for again after giving up: %+v", c)
	}
}

func TestManyWritersAndReadersAtOnce(t *testing.T) {
	s, ctx := newStore(t, Options{}), context.Background()
	other, err := Open(ctx, s.Dir(), Options{}) // as "add" runs beside "serve"
	if err != nil {
		t.Fatal(err)
	}
	defer other.Close()
	d := must(s.CreateDog(ctx, fullDog()))(t)
	var wg sync.WaitGroup
	for i := range 8 {
		wg.Go(func() {
			st := s
			if i%2 == 1 {
				st = other
			}
			for n := range 10 {
				if _, err := st.CreateSession(ctx, tl.Session{Dog: d.ID, On: tl.Date(2026, 1, 1) + tl.Day(i*10+n), Work: []tl.ZoneWork{{Zone: tl.Back, Do: tl.Tidy}}}); err != nil {
					t.Error(err)
				}
				list, err := st.Sessions(ctx, d.ID)
				if err != nil {
					t.Error(err)
				}
				for _, v := range list {
					if len(v.Work) != 1 {
						t.Errorf("a session is half-visible: %+v", v)
					}
				}
			}
		})
	}
	wg.Wait()
	if n := len(must(s.Sessions(ctx, d.ID))(t)); n != 80 {
		t.Errorf("%d sessions, want 80", n)
	}
}

func TestEveryFieldOfALineIsChangedAndTheOthersStay(t *testing.T) {
	s, ctx := newStore(t, Options{}), context.Background()
	d := must(s.CreateDog(ctx, fullDog()))(t)
	line := tl.ZoneWork{Zone: tl.Back, Do: tl.Take, Share: 0.25, Tool: tl.Tools()[0], Ripeness: tl.Ready, HairCheck: tl.HairWhole, Skin: tl.SkinFine, Cover: tl.CoverFull, NewHair: tl.NewHairOut, Remark: "a"}
	other := tl.ZoneWork{Zone: tl.Loin, Do: tl.Take, Share: 0.5, Skin: tl.SkinFine, Remark: "stays"}
	v := must(s.CreateSession(ctx, tl.Session{Dog: d.ID, On: tl.Date(2026, 5, 1), Work: []tl.ZoneWork{line, other}}))(t)
	changes := map[string]func(*tl.ZoneWork){
		"Do":        func(w *tl.ZoneWork) { w.Do = tl.Tidy },
		"Share":     func(w *tl.ZoneWork) { w.Share = 0.75 },
		"TopLayer":  func(w *tl.ZoneWork) { w.TopLayer = true },
		"Tool":      func(w *tl.ZoneWork) { w.Tool = "" },
		"Ripeness":  func(w *tl.ZoneWork) { w.Ripeness = tl.NotReady },
		"HairCheck": func(w *tl.ZoneWork) { w.HairCheck = "" },
		"Skin":      func(w *tl.ZoneWork) { w.Skin = tl.SkinPink },
		"Cover":     func(w *tl.ZoneWork) { w.Cover = "" },
		"NewHair":   func(w *tl.ZoneWork) { w.NewHair = "" },
		"Remark":    func(w *tl.ZoneWork) { w.Remark = "b" },
	}
	if n := reflect.TypeFor[tl.ZoneWork]().NumField() - 1; len(changes) != n {
		t.Errorf("%d of %d fields are changed", len(changes), n)
	}
	for name, change := range changes {
		v.Work[0] = line
		v = must(s.UpdateSession(ctx, v))(t)
		change(&v.Work[0])
		if v.Work[0] == line {
			t.Errorf("%s was not changed", name)
		}
		want := slices.Clone(v.Work)
		v = must(s.UpdateSession(ctx, v))(t)
		if kept := must(s.Session(ctx, v.ID))(t); !reflect.DeepEqual(kept.Work, want) {
			t.Errorf("%s: %+v, want %+v", name, kept.Work, want)
		}
	}
}

// A write that fails leaves its prepared statements as they were.
func TestAWriteGoesOnAfterOneThatFailed(t *testing.T) {
	s, ctx := newStore(t, Options{}), context.Background()
	d := must(s.CreateDog(ctx, fullDog()))(t)
	for i := range 5 {
		on := tl.Date(2026, 5, 1) + tl.Day(i)
		v := must(s.CreateSession(ctx, tl.Session{Dog: d.ID, On: on, Work: []tl.ZoneWork{{Zone: tl.Back, Do: tl.Take, Share: 0.5}}}))(t)
		if _, err := s.CreateSession(ctx, tl.Session{Dog: d.ID, On: on}); tl.KindOf(err) != tl.Conflict {
			t.Errorf("the same day again: %v", err)
		}
		bad := v
		bad.Work = []tl.ZoneWork{{Zone: tl.Back, Do: "nonsense", Share: 0.5}}
		if _, err := s.UpdateSession(ctx, bad); err == nil {
			t.Error("nonsense was kept")
		}
		gone, cancel := context.WithCancel(ctx)
		cancel()
		if _, err := s.UpdateSession(gone, v); err == nil {
			t.Error("who had gone was written for")
		}
		if kept := must(s.Session(ctx, v.ID))(t); !reflect.DeepEqual(kept, v) {
			t.Errorf("%+v, want %+v", kept, v)
		}
		v.Minutes = 10 + i
		if kept := must(s.UpdateSession(ctx, v))(t); kept.Minutes != v.Minutes || kept.Rev != v.Rev+1 {
			t.Errorf("%+v", kept)
		}
	}
}
