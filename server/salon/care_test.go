package salon

import (
	"slices"
	"testing"
	"time"

	"thatch/timeline"
)

func TestHowOneKindOfCareStands(t *testing.T) {
	today := day("2026-06-10")
	note := func(last timeline.Day, every ...int) timeline.Noted {
		n := timeline.Noted{Last: map[string]timeline.Day{}, Every: map[timeline.Care]int{}}
		if last != 0 {
			n.Last["ears"] = last
		}
		if len(every) > 0 {
			n.Every[timeline.CareEars] = every[0]
		}
		return n
	}
	for _, c := range []struct {
		name string
		n    timeline.Noted
		want CareState
		due  timeline.Day
		open bool
	}{
		{"nobody noted it yet", note(0), CareUnnoted, 0, true},
		{"nothing at all is noted, not even empty", timeline.Noted{}, CareUnnoted, 0, true},
		{"done today", note(today), CareDone, today + 28, false},
		{"done last week", note(today - 7), CareFine, today + 21, false},
		{"in seven days", note(today - 21), CareFine, today + 7, false},
		{"in six days", note(today - 22), CareSoon, today + 6, true},
		{"today", note(today - 28), CareDue, today, true},
		{"long ago", note(today - 90), CareDue, today - 62, true},
		{"every week for this dog", note(today-7, 7), CareDue, today, true},
		{"not counted for this dog", note(today-90, 0), CareOff, 0, false},
	} {
		got := careLine(timeline.CareEars, c.n, today)
		if got.State != c.want || got.Due != c.due || got.Open() != c.open {
			t.Errorf("%s: %q, due %v, open %t", c.name, got.State, got.Due, got.Open())
		}
	}
}

func TestCareIsNotedByOneTapAndTakenBackByAnother(t *testing.T) {
	s, c := opened(t)
	d := newDog(t, s, "Bracken", day("2026-05-01"))
	look := func(what timeline.Care) CareLine {
		for _, l := range must(s.Care(ctx, d.ID)).Lines {
			if l.What == what {
				return l
			}
		}
		return CareLine{}
	}
	if got := must(s.Care(ctx, d.ID)); len(got.OnToday()) != 0 || len(got.Open()) != len(timeline.Cares()) || len(got.Reminds()) != 0 {
		t.Errorf("a dog of whom nothing is noted: %+v", got)
	}
	ok(s.NoteCare(ctx, d.ID, "ears", false))
	if got := look(timeline.CareEars); got.State != CareDone {
		t.Errorf("after the tap: %+v", got)
	}
	c.set(day("2026-07-08"))
	if got := look(timeline.CareEars); got.State != CareDue || got.Last != day("2026-06-10") {
		t.Errorf("four weeks later: %+v", got)
	}
	ok(s.NoteCare(ctx, d.ID, "ears", false))
	ok(s.NoteCare(ctx, d.ID, "ears", true))
	if got := look(timeline.CareEars); got.State != CareDue || got.Last != day("2026-06-10") {
		t.Errorf("taken back: %+v", got)
	}
	ok(s.NoteCare(ctx, d.ID, "ears", true)) // nothing is left to take back today: what was before stays
	if got := look(timeline.CareEars); got.Last != day("2026-06-10") {
		t.Errorf("taken back twice: %+v", got)
	}
	wantFault(t, s.NoteCare(ctx, d.ID, "wings", false), timeline.Invalid, "fault.word", "what")
	wantFault(t, s.NoteCare(ctx, "nobody", "ears", false), timeline.NotFound, "fault.store.not_found.dog", "")
	wantFault(t, s.SetCareEvery(ctx, d.ID, map[timeline.Care]int{timeline.CareEyes: 400}), timeline.Invalid, "fault.care.every", "every_eyes")
	ok(s.SetCareEvery(ctx, d.ID, map[timeline.Care]int{timeline.CareEyes: 14, timeline.CareEars: 7}))
	if eyes, ears := look(timeline.CareEyes), look(timeline.CareEars); eyes.Own || !ears.Own || ears.Every != 7 {
		t.Errorf("the usual interval is not her own: %+v, %+v", eyes, ears)
	}
}

func TestAPuppyHasLessonsAndIsMeasuredAgain(t *testing.T) {
	s, c := opened(t)
	today := day("2026-06-10")
	d := must(s.CreateDog(ctx, NewDog{Name: "Nettle", WithersMM: 240, Born: today - 120}))
	look := must(s.Care(ctx, d.ID))
	if !look.Growing || look.Months != 4 || look.Height || len(look.Lessons) != len(timeline.Lessons()) || look.Ahead != timeline.Lessons()[0] {
		t.Errorf("a puppy of four months: %+v", look)
	}
	ok(s.NoteCare(ctx, d.ID, timeline.Lessons()[0].What(), false))
	if look = must(s.Care(ctx, d.ID)); look.Ahead != timeline.Lessons()[1] || look.Lessons[0].On != today {
		t.Errorf("after the first lesson: %+v", look)
	}
	c.set(today + 29)
	if look = must(s.Care(ctx, d.ID)); !look.Height {
		t.Error("a height of four weeks ago is taken for hers")
	}
	ok(s.NoteCare(ctx, d.ID, timeline.Lessons()[0].What(), true)) // it did not last
	if look = must(s.Care(ctx, d.ID)); look.Ahead != timeline.Lessons()[0] {
		t.Errorf("after the lesson was taken back: %+v", look)
	}
	// The same height read again is of today; one that is saved with other things untouched stays of its day.
	now := must(s.Dog(ctx, d.ID))
	now = must(s.SaveSize(ctx, d.ID, now.Rev, now.Born, 240))
	if now.WithersOn != today+29 || must(s.Care(ctx, d.ID)).Height {
		t.Errorf("measured again: %+v", now)
	}
	c.set(today + 40)
	now.Notes = "Bold."
	if now = must(s.UpdateDog(ctx, now)); now.WithersOn != today+29 {
		t.Errorf("a note moved the day of the height to %v", now.WithersOn)
	}
	c.set(today + 300)
	if look = must(s.Care(ctx, d.ID)); look.Growing || len(look.Lessons) != 0 || !look.Height {
		t.Errorf("grown, without lessons begun, measured as a puppy: %+v", look)
	}
	_, err := s.SaveSize(ctx, d.ID, now.Rev, today+301, 0)
	wantFault(t, err, timeline.Invalid, "fault.day.future", "born")
	_, err = s.SaveSize(ctx, d.ID, now.Rev, day("1970-01-01"), 0)
	wantFault(t, err, timeline.Invalid, "fault.dog.born", "born")
}

func TestPhotosOfAPuppyAreNoReferenceOnceSheHasGrown(t *testing.T) {
	born := day("2026-01-01")
	photo := func(id timeline.ID, on string) timeline.Photo {
		return timeline.Photo{ID: id, Moment: timeline.Moment{Local: on + "T10:00:00"}}
	}
	photos := []timeline.Photo{photo("a", "2026-03-01"), photo("b", "2026-05-20"), photo("c", "2026-06-09"), {ID: "undated"}}
	ids := func(ps []timeline.Photo) (out string) {
		for _, p := range ps {
			out += string(p.ID) + " "
		}
		return out
	}
	for _, c := range []struct {
		name string
		born timeline.Day
		on   string
		want string
	}{
		{"today", born, "2026-06-10", "b c undated "},
		{"for a photo of March", born, "2026-03-05", "a undated "},
		{"nobody knows her birthday", 0, "2026-06-10", "a b c undated "},
	} {
		if got := ids(stillHerSize(c.born, day(c.on), photos)); got != c.want {
			t.Errorf("%s: %s", c.name, got)
		}
	}
	if len(photos) != 4 || photos[0].ID != "a" {
		t.Error("the list that was given is changed")
	}
}

func TestNoBathIsSaidInTheWeekBeforeAVisit(t *testing.T) {
	today := day("2026-06-10")
	for next, want := range map[timeline.Day]timeline.Day{0: 0, today - 1: 0, today: 0, today + 1: today + 1, today + 7: today + 7, today + 8: 0} {
		d := timeline.Dog{Cadence: timeline.Cadence{Next: next}}
		if got := careOf(d, timeline.Noted{}, today).NoBath; got != want {
			t.Errorf("booked for %v: %v", next, got)
		}
	}
}

func TestWhatAVeterinarianShouldLookAt(t *testing.T) {
	today := day("2026-06-10")
	visit := func(ago int, lines ...timeline.ZoneWork) timeline.Session {
		return timeline.Session{On: today - timeline.Day(ago), Work: lines}
	}
	strip := timeline.ZoneWork{Zone: timeline.Back, Do: timeline.Strip, Share: 1}
	bare := timeline.ZoneWork{Zone: timeline.Back, Do: timeline.Leave, NewHair: timeline.NewHairNotOut}
	out := timeline.ZoneWork{Zone: timeline.Back, Do: timeline.Leave, NewHair: timeline.NewHairOut}
	raised := timeline.ZoneWork{Zone: timeline.Throat, Do: timeline.Leave, Skin: timeline.SkinRaised}
	pink := timeline.ZoneWork{Zone: timeline.Throat, Do: timeline.Leave, Skin: timeline.SkinPink}
	for _, c := range []struct {
		name     string
		sessions []timeline.Session
		signs    []SignLine
		want     []string
	}{
		{"nothing was ever written", nil, nil, nil},
		{"new hair is not out after nine weeks", []timeline.Session{visit(70, strip), visit(7, bare)}, nil, nil},
		{"nor after ten", []timeline.Session{visit(70, strip), visit(0, bare)}, nil, []string{"vet.no_hair"}},
		{"it came at last", []timeline.Session{visit(90, strip), visit(10, bare), visit(0, out)}, nil, nil},
		{"nobody looked", []timeline.Session{visit(200, strip)}, nil, nil},
		{"stripped again since", []timeline.Session{visit(150, strip), visit(70, bare), visit(60, strip), visit(0, bare)}, nil, nil},
		{"raised skin once", []timeline.Session{visit(30, raised)}, nil, nil},
		{"raised skin twice", []timeline.Session{visit(60, raised), visit(30, raised)}, nil, []string{"vet.skin"}},
		{"the first time was two years ago", []timeline.Session{visit(700, raised), visit(30, raised)}, nil, nil},
		{"pink skin twice is common", []timeline.Session{visit(60, pink), visit(30, pink)}, nil, nil},
		{"it was seen", nil, []SignLine{{timeline.SignThinning, today}}, []string{"vet.thinning"}},
	} {
		got := forVet(history{today: today, sessions: c.sessions}, c.signs)
		if len(got) != len(c.want) {
			t.Errorf("%s: %v", c.name, got)
			continue
		}
		for i := range got {
			if got[i].Key != c.want[i] {
				t.Errorf("%s: %v", c.name, got)
			}
		}
	}
}

func TestTheHandsOfADay(t *testing.T) {
	today := day("2026-06-10")
	noon := today.Time().Add(12 * time.Hour)
	dog := func(next timeline.Day, sessions ...timeline.Session) whole {
		d := timeline.Dog{Cadence: timeline.Cadence{Next: next, Minutes: 90}}
		return whole{record: &record{history: history{dog: d, today: today, sessions: sessions}}}
	}
	logged := timeline.Session{ID: "logged", On: today, Minutes: 110}
	running := timeline.Session{ID: "running", On: today, Sheet: timeline.SheetState{Begun: noon.Add(-40 * time.Minute)}}
	all := []whole{dog(today, logged), dog(today, running), dog(today), dog(today + 1), dog(today + 14), dog(today+1, timeline.Session{ID: "open", On: today}), dog(0, timeline.Session{On: today - 1, Minutes: 300}), dog(today, timeline.Session{ID: "off", On: today, NotToday: timeline.OffIll})}
	for _, c := range []struct {
		name  string
		limit int
		mine  string
		want  Hands
	}{
		{"no limit", 0, "", Hands{DoneMin: 150, PlannedMin: 180, TomorrowMin: 180}},
		{"room for all", 360, "", Hands{LimitMin: 360, DoneMin: 150, PlannedMin: 180, TomorrowMin: 180, Say: HandsWell, SayTomorrow: HandsWell}},
		{"room for what is done", 300, "", Hands{LimitMin: 300, DoneMin: 150, PlannedMin: 180, TomorrowMin: 180, Say: HandsNear, SayTomorrow: HandsWell}},
		{"the limit is reached", 150, "", Hands{LimitMin: 150, DoneMin: 150, PlannedMin: 180, TomorrowMin: 180, Say: HandsOver, SayTomorrow: HandsNear}},
		{"another wrote the long one", 300, "running", Hands{LimitMin: 300, DoneMin: 40, PlannedMin: 180, TomorrowMin: 180, Say: HandsWell, SayTomorrow: HandsWell}},
	} {
		mine := func(v timeline.Session) bool { return c.mine == "" || string(v.ID) == c.mine }
		if got := handsOf(all, today, noon, c.limit, mine); got != c.want {
			t.Errorf("%s: %+v, want %+v", c.name, got, c.want)
		}
	}
	s, _ := opened(t)
	wantFault(t, s.SetHandsLimit(ctx, 17*60), timeline.Invalid, "fault.hands.limit", "hours")
}

func TestTheFirstPageSaysWhoIsOnTheTableAndWhatIsAtRisk(t *testing.T) {
	s, c := opened(t)
	today := day("2026-06-10")
	c.set(today - 30)
	booked := newDog(t, s, "Booked", today-30)
	morrow := newDog(t, s, "Morrow", today-30)
	due := newDog(t, s, "Due", today-30)
	ok(s.NoteCare(ctx, due.ID, "nails", false))
	ok(s.NoteCare(ctx, booked.ID, "nails", false))
	done := newDog(t, s, "Done", today-30)
	was := must(s.OpenSession(ctx, booked.ID, today-30))
	must(s.SaveSession(ctx, SessionEdit{ID: was.ID, Rev: was.Rev, Minutes: 60, Work: []timeline.ZoneWork{{Zone: timeline.Throat, Do: timeline.Leave, Skin: timeline.SkinPink, Remark: "Sore"}}}))
	c.set(today)
	must(s.BookNext(ctx, booked.ID, must(s.Dog(ctx, booked.ID)).Rev, today))
	must(s.BookNext(ctx, morrow.ID, morrow.Rev, today+1))
	must(s.AddShow(ctx, timeline.Show{Dog: booked.ID, Name: "Fair", On: today + 60}))
	must(s.AddShow(ctx, timeline.Show{Dog: due.ID, Name: "Tomorrow's", On: today + 1})) // no visit before it: no plan
	v := must(s.OpenSession(ctx, done.ID, today))
	must(s.SaveSession(ctx, SessionEdit{ID: v.ID, Rev: v.Rev, Minutes: 75, Work: []timeline.ZoneWork{{Zone: timeline.Back, Do: timeline.Tidy}}}))

	home := must(s.HomePage(ctx))
	if len(home.Table) != 2 || home.Table[0].Dog.ID != booked.ID || home.Table[1].Dog.ID != done.ID || !home.Table[1].Done {
		t.Fatalf("on the table: %+v", home.Table)
	}
	first := home.Table[0]
	if len(first.Lines) == 0 || first.Minutes == 0 || len(first.Before) != 1 || first.Before[0].Zone != timeline.Throat || len(first.Care) == 0 {
		t.Errorf("what she needs: %d lines in %d minutes, before %+v, care %+v", len(first.Lines), first.Minutes, first.Before, first.Care)
	}
	if len(home.Next) != 1 || home.Next[0].Dog.ID != morrow.ID || home.Evening {
		t.Errorf("tomorrow %+v, evening %t", home.Next, home.Evening)
	}
	if len(home.CareDue) != 1 || home.CareDue[0].Dog.ID != due.ID {
		t.Errorf("care is due of %+v", home.CareDue)
	}
	for i := 1; i < len(home.Shows); i++ {
		if home.Shows[i-1].Risk() > home.Shows[i].Risk() {
			t.Errorf("shows at risk do not come first: %+v", home.Shows)
		}
	}
	if home.Hands.DoneMin != 75 || home.Hands.PlannedMin != first.Minutes {
		t.Errorf("hands: %+v", home.Hands)
	}
	c.at.Store(today.Time().Add(18 * time.Hour).Unix())
	if home = must(s.HomePage(ctx)); !home.Evening {
		t.Error("at six in the evening tomorrow does not come first")
	}
}

func TestTheBagOfAShowIsTickedLineByLine(t *testing.T) {
	s, _ := opened(t)
	d := newDog(t, s, "Bracken", day("2026-05-01"))
	show := must(s.AddShow(ctx, timeline.Show{Dog: d.ID, Name: "Fair", On: day("2026-06-20")}))
	ok(s.TickBag(ctx, show.ID, "lead", true))
	ok(s.TickBag(ctx, show.ID, "papers", true))
	ok(s.TickBag(ctx, show.ID, "papers", false))
	n := 0
	for _, l := range must(s.Bag(ctx, show.ID)) {
		if l.On {
			n++
			if l.Item != "lead" {
				t.Errorf("%s is ticked", l.Item)
			}
		}
	}
	if n != 1 {
		t.Errorf("%d lines are ticked", n)
	}
	wantFault(t, s.TickBag(ctx, show.ID, "brandy", true), timeline.Invalid, "fault.word", "item")
	ok(s.TrashShow(ctx, show.ID))
	if err := s.TickBag(ctx, show.ID, "lead", true); !isNotFound(err) {
		t.Errorf("a show in the trash: %v", err)
	}
}

func TestNoGhostAndNoPairOfAPuppyThatHasGrownSince(t *testing.T) {
	s, _ := opened(t)
	d := newDog(t, s, "Nettle", day("2026-03-01"))
	for i, at := range []string{"2026-03-01 10:00", "2026-03-15 10:00"} {
		p := add(t, s, d.ID, at+".jpg", snap(t, uint64(i), at)).Photo
		must(s.SetPhotoFacts(ctx, p.ID, p.Rev, PhotoEdit{Side: timeline.SideLeft, Facing: timeline.SideLeft, CoatState: timeline.CoatBrushedDown}))
	}
	look := func() (ghost, pair bool) {
		g := must(s.GhostOf(ctx, d.ID, timeline.SideLeft))
		_, _, pair, err := s.FirstAgainstLast(ctx, d.ID, "")
		ok(err)
		return g.Photo.ID != "", pair
	}
	if ghost, pair := look(); !ghost || !pair {
		t.Errorf("nobody knows when she was born: ghost %t, pair %t", ghost, pair)
	}
	d = must(s.SaveSize(ctx, d.ID, must(s.Dog(ctx, d.ID)).Rev, day("2026-01-01"), 0))
	if ghost, pair := look(); ghost || pair {
		t.Errorf("photos of three months ago, of a puppy: ghost %t, pair %t", ghost, pair)
	}
}

func TestACalendarHasWhatIsBookedAndNotWhatIsProposed(t *testing.T) {
	s, _ := opened(t)
	today := day("2026-06-10")
	d := newDog(t, s, "Bracken", today-30)
	d = must(s.BookNext(ctx, d.ID, d.Rev, today+3))
	d.Cadence.Days = []timeline.BookedDay{{On: today + 9, Extra: true}, {On: today + 17, Skip: true}, {On: today + 3, Minutes: 20}}
	must(s.UpdateDog(ctx, d))
	must(s.AddShow(ctx, timeline.Show{Dog: d.ID, Name: "Fair", On: today + 5}))
	gone := newDog(t, s, "Gone", today-30)
	must(s.BookNext(ctx, gone.ID, gone.Rev, today+1))
	ok(s.TrashDog(ctx, gone.ID))
	var got []timeline.Day
	for _, v := range must(s.Calendar(ctx)) {
		got = append(got, v.On)
		if (v.Show != nil) != (v.On == today+5) {
			t.Errorf("%+v", v)
		}
	}
	if want := []timeline.Day{today + 3, today + 5, today + 9}; !slices.Equal(got, want) {
		t.Errorf("%v, want %v", got, want)
	}
}
