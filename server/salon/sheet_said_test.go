package salon

import (
	"reflect"
	"slices"
	"strings"
	"testing"

	"thatch/timeline"
)

func zonesWorked(v timeline.Session) (out []timeline.Zone) {
	for _, w := range v.Work {
		out = append(out, w.Zone)
	}
	return out
}

func TestASheetOfAVisitWithoutWorkGoesToTheNextVisit(t *testing.T) {
	s, c, d, v := onTheTable(t)
	lines := must(s.Sheet(ctx, v.ID)).Lines()
	before := must(s.Plan(ctx, d.ID))
	if before.Sessions[0].On != v.On {
		t.Fatalf("the plan begins on %s, she is on the table on %s", before.Sessions[0].On, v.On)
	}
	v = must(s.NotToday(ctx, v.ID, v.Rev, timeline.OffSoreSkin, "Pink under the tail.", 0))
	if v.NotToday != timeline.OffSoreSkin || v.Sheet.Done.IsZero() || v.Note != "Pink under the tail." {
		t.Errorf("it is kept as %+v", v)
	}
	if sh := must(s.Sheet(ctx, v.ID)); len(sh.Steps) != 0 {
		t.Error("there is still a sheet to work")
	}
	p := must(s.Plan(ctx, d.ID))
	next := p.Sessions[0]
	if next.On != v.On+14 {
		t.Errorf("the plan goes on on %s", next.On)
	}
	worked := map[timeline.Zone]bool{}
	for _, l := range next.Zones {
		worked[l.Zone] = worked[l.Zone] || l.Do != timeline.Leave
	}
	for _, l := range lines {
		if l.Pulls() && !worked[l.Zone] {
			t.Errorf("%s was to be worked and is not at the next visit", l.Zone)
		}
	}
	page := must(s.SessionPage(ctx, v.ID))
	if page.Changed == nil || page.Changed.NotToday != timeline.OffSoreSkin || !slices.Contains(keysOf(page.Changed.Why), "change.why.not_today") {
		t.Errorf("what it changed in the plan: %+v", page.Changed)
	}
	line := must(s.Timeline(ctx, d.ID)).Sessions
	if l := line[len(line)-1]; l.NotToday != timeline.OffSoreSkin || l.Note != "Pink under the tail." || len(l.Work) != 0 {
		t.Errorf("her history says %+v", l)
	}

	// At the next visit it is read before the first hair.
	c.set(v.On + 14)
	w := must(s.OpenSession(ctx, d.ID, v.On+14))
	if sh := must(s.Sheet(ctx, w.ID)); sh.Last == nil || sh.Last.NotToday != timeline.OffSoreSkin {
		t.Error("the next sheet does not tell it")
	}
}

func TestSheIsWorkedAfterAll(t *testing.T) {
	s, _, d, v := onTheTable(t)
	v = must(s.NotToday(ctx, v.ID, v.Rev, timeline.OffAfraid, "", 0))
	v = must(s.ReopenSheet(ctx, v.ID, v.Rev))
	if v.NotToday != "" || !v.Sheet.Done.IsZero() || len(must(s.Sheet(ctx, v.ID)).Lines()) == 0 || must(s.Plan(ctx, d.ID)).Sessions[0].On != v.On {
		t.Errorf("opened again: %+v", v)
	}
	v = must(s.NotToday(ctx, v.ID, v.Rev, timeline.OffAfraid, "", v.On+3))
	if next := must(s.Dog(ctx, d.ID)).Cadence.Next; next != v.On+3 {
		t.Errorf("the next visit is %s", next)
	}
	v = must(s.SaveSession(ctx, SessionEdit{ID: v.ID, Rev: v.Rev, Work: []timeline.ZoneWork{{Zone: timeline.Back, Do: timeline.Tidy}}}))
	if v.NotToday != "" {
		t.Error("a worked visit is still called none")
	}
	_, err := s.NotToday(ctx, v.ID, v.Rev, timeline.OffIll, "", 0)
	wantFault(t, err, timeline.Invalid, "fault.session.worked", "not_today")
	_, err = s.NotToday(ctx, v.ID, v.Rev, "bored", "", 0)
	wantFault(t, err, timeline.Invalid, "fault.word", "not_today")
}

func TestTheLastChangeOfAnyKindIsUndoneOnce(t *testing.T) {
	s, _, _, v := onTheTable(t)
	sh := must(s.Sheet(ctx, v.ID))
	v, _, err := s.SheetDone(ctx, v.ID, v.Rev, string(sh.Lines()[0].Zone), SheetAnswer{Skin: timeline.SkinFine})
	ok(err)
	stood := timeline.StoodWell
	for _, c := range []struct {
		name string
		do   func(rev timeline.Rev) (timeline.Session, error)
	}{
		{"all the rest", func(rev timeline.Rev) (timeline.Session, error) { return s.SheetRest(ctx, v.ID, rev) }},
		{"a group", func(rev timeline.Rev) (timeline.Session, error) {
			return s.SheetGroup(ctx, v.ID, rev, sh.Lines()[1].Zone.Group())
		}},
		{"a break", func(timeline.Rev) (timeline.Session, error) { return s.BreakTaken(ctx, v.ID) }},
		{"more in the note", func(timeline.Rev) (timeline.Session, error) { return s.AddNote(ctx, v.ID, "Liked the window.") }},
		{"the end", func(rev timeline.Rev) (timeline.Session, error) {
			return s.AllDone(ctx, v.ID, rev, Finish{Minutes: 55, Tolerance: stood, Found: Finding{Cover: timeline.CoverFull}, Add: "Good."})
		}},
		{"the log", func(rev timeline.Rev) (timeline.Session, error) {
			return s.SaveSession(ctx, SessionEdit{ID: v.ID, Rev: rev, Minutes: 9, Tolerance: &stood})
		}},
	} {
		was := must(s.Session(ctx, v.ID))
		is, err := c.do(was.Rev)
		ok(err)
		if is.Before == nil || is.Before.Rev != is.Rev {
			t.Errorf("%s: nothing to undo", c.name)
			continue
		}
		back, _, err := s.UndoLast(ctx, v.ID, is.Rev)
		ok(err)
		was.Rev, was.Before, back.Rev, back.Before = 0, nil, 0, nil
		if !reflect.DeepEqual(was, back) {
			t.Errorf("%s: it was\n%+v, and is\n%+v", c.name, was, back)
		}
		now := must(s.Session(ctx, v.ID))
		_, _, err = s.UndoLast(ctx, v.ID, now.Rev)
		wantFault(t, err, timeline.Conflict, "fault.session.no_undo", "")
	}
	// Not over somebody else's change.
	is := must(s.BreakTaken(ctx, v.ID))
	must(s.AddNote(ctx, v.ID, "From the other phone."))
	_, _, err = s.UndoLast(ctx, v.ID, is.Rev)
	wantFault(t, err, timeline.Conflict, "fault.store.changed", "")
}

func TestWhatIsFoundOfAGroupFillsWhatWasNotSaid(t *testing.T) {
	s, _, _, v := onTheTable(t)
	sh := must(s.Sheet(ctx, v.ID))
	g := sh.Lines()[0].Zone.Group()
	var own timeline.Zone
	for i, l := range sh.Lines() {
		if l.Zone.Group() != g {
			continue
		}
		a := SheetAnswer{}
		if i == 0 {
			own, a.Skin = l.Zone, timeline.SkinPink
		}
		var err error
		v, _, err = s.SheetDone(ctx, v.ID, v.Rev, string(l.Zone), a)
		ok(err)
	}
	v, _, err := s.SheetDone(ctx, v.ID, v.Rev, "look-"+string(g), SheetAnswer{Skin: timeline.SkinFine, Cover: timeline.CoverThin, HairCheck: timeline.HairWhole, Ripeness: timeline.Ready})
	ok(err)
	for _, w := range v.Work {
		want := timeline.SkinFine
		if w.Zone == own {
			want = timeline.SkinPink
		}
		pulled := w.Do == timeline.Take || w.Do == timeline.Strip || w.Do == timeline.Tidy
		if w.Skin != want || w.Cover != timeline.CoverThin || (w.HairCheck == timeline.HairWhole) != pulled || (w.Ripeness == timeline.Ready) != pulled {
			t.Errorf("%+v", w)
		}
	}
}

func TestTroubleIsSaidOfItsPlaceAlone(t *testing.T) {
	sticky, broken := timeline.HairSticky, timeline.SkinBroken
	for _, c := range []struct {
		name  string
		found Finding
		field string // "": it is kept
	}{
		{"broken skin nowhere", Finding{Skin: broken}, "skin_at"},
		{"pink skin nowhere", Finding{Skin: timeline.SkinPink}, "skin_at"},
		{"broken skin where nothing was worked", Finding{Skin: broken, SkinAt: []timeline.Zone{timeline.Loin, timeline.Skull}}, "skin_at"},
		{"broken skin where nothing was done", Finding{Skin: broken, SkinAt: []timeline.Zone{timeline.Throat}}, "skin_at"},
		{"a sticky root nowhere", Finding{HairCheck: sticky}, "hair_at"},
		{"a sticky root of hair that was shortened", Finding{HairCheck: sticky, HairAt: []timeline.Zone{timeline.Belly}}, "hair_at"},
		{"hair that is cut nowhere", Finding{HairCheck: timeline.HairCut, Skin: timeline.SkinFine}, "hair_at"},
		{"each at its place", Finding{Skin: broken, SkinAt: []timeline.Zone{timeline.Belly}, HairCheck: sticky, HairAt: []timeline.Zone{timeline.Loin}, Cover: timeline.CoverFull}, ""},
	} {
		s, _, _, v := onTheTable(t)
		v = must(s.SaveSession(ctx, SessionEdit{ID: v.ID, Rev: v.Rev, Work: []timeline.ZoneWork{
			{Zone: timeline.Back, Do: timeline.Take, Share: 0.25}, {Zone: timeline.Loin, Do: timeline.Strip, HairCheck: timeline.HairWhole},
			{Zone: timeline.Belly, Do: timeline.Scissor}, {Zone: timeline.Throat, Do: timeline.Leave}}}))
		done, err := s.AllDone(ctx, v.ID, v.Rev, Finish{Minutes: 50, Found: c.found})
		if c.field != "" {
			if f := faultOf(err); f == nil || f.Kind != timeline.Invalid || f.Field != c.field {
				t.Errorf("%s: %v, want it refused in %s", c.name, err, c.field)
			}
			if now := must(s.Session(ctx, v.ID)); !now.Sheet.Done.IsZero() {
				t.Errorf("%s: the visit is ended", c.name)
			}
			continue
		}
		ok(err)
		for _, w := range done.Work {
			if (w.Skin == broken) != (w.Zone == timeline.Belly) || (w.HairCheck == sticky) != (w.Zone == timeline.Loin) || (w.Cover == timeline.CoverFull) != (w.Do != timeline.Leave) {
				t.Errorf("%s: %+v", c.name, w)
			}
		}
	}
}

func TestAsLastTimeRepeatsTheWorkAndNotWhatWasFound(t *testing.T) {
	s, c := opened(t)
	today := day("2026-06-10")
	c.set(today - 14)
	d := newDog(t, s, "Wisp", today-14)
	last := must(s.OpenSession(ctx, d.ID, today-14))
	must(s.SaveSession(ctx, SessionEdit{ID: last.ID, Rev: last.Rev, Work: []timeline.ZoneWork{
		{Zone: timeline.Back, Do: timeline.Take, TopLayer: true, Tool: "knife_fine", Ripeness: timeline.Ready, Cover: timeline.CoverFull, Remark: "Went well."},
		{Zone: timeline.Rump, Do: timeline.Take, Share: timeline.ShareThird},
		{Zone: timeline.Skull, Do: timeline.Strip},
		{Zone: timeline.Throat, Do: timeline.Take, Share: timeline.ShareQuarter, Skin: timeline.SkinPink},
		{Zone: timeline.Feet, Do: timeline.Scissor},
		{Zone: timeline.Belly, Do: timeline.Leave},
	}}))
	c.set(today)
	v := must(s.OpenSession(ctx, d.ID, today))
	v = must(s.SaveSession(ctx, SessionEdit{ID: v.ID, Rev: v.Rev, Work: []timeline.ZoneWork{{Zone: timeline.Rump, Do: timeline.Tidy, Remark: "Today's own."}}}))
	r := must(s.Repeat(ctx, v.ID))
	if r == nil || r.On != today-14 {
		t.Fatalf("%+v", r)
	}
	if got, want := inOrder(r.Zones()), inOrder([]timeline.Zone{timeline.Back, timeline.Feet}); !slices.Equal(got, want) {
		t.Errorf("repeated are %v, want %v: not what is logged, bare or sore", got, want)
	}
	why := map[timeline.Zone]string{}
	for _, l := range r.Lines {
		why[l.Line.Zone] = l.Keep.Key
	}
	if why[timeline.Skull] != "repeat.bare" || why[timeline.Throat] != "repeat.sore" || why[timeline.Rump] != "repeat.logged" {
		t.Errorf("left out are %v", why)
	}
	v = must(s.RepeatLast(ctx, v.ID, v.Rev, append(r.Zones(), timeline.Throat, timeline.Rump)))
	if got, want := zonesWorked(v), inOrder([]timeline.Zone{timeline.Back, timeline.Rump, timeline.Throat, timeline.Feet}); !slices.Equal(inOrder(got), want) {
		t.Errorf("logged are %v, want %v", got, want)
	}
	for _, w := range v.Work {
		switch {
		case w.Zone == timeline.Rump && (w.Do != timeline.Tidy || w.Remark != "Today's own."):
			t.Errorf("today's own line became %+v", w)
		case w.Zone == timeline.Back && (!w.TopLayer || w.Share <= 0 || w.Ripeness != "" || w.Cover != "" || w.Remark != "" || w.Tool != "knife_fine"):
			t.Errorf("the back: %+v", w)
		}
	}
	if v.Before == nil || v.Before.Count != 3 {
		t.Errorf("to undo: %+v", v.Before)
	}
	back, _, err := s.UndoLast(ctx, v.ID, v.Rev)
	ok(err)
	if !slices.Equal(zonesWorked(back), []timeline.Zone{timeline.Rump}) {
		t.Errorf("undone: %v", zonesWorked(back))
	}
}

func TestANoteIsAddedToAndNeverOverwritten(t *testing.T) {
	s, _, _, v := onTheTable(t)
	must(s.AddNote(ctx, v.ID, "Left ear.\n"))
	must(s.AddNote(ctx, v.ID, "  Calmer after the walk. "))
	if got := must(s.Session(ctx, v.ID)).Note; got != "Left ear.\nCalmer after the walk." {
		t.Errorf("the note is %q", got)
	}
	_, err := s.AddNote(ctx, v.ID, " ")
	wantFault(t, err, timeline.Invalid, "fault.session.no_note", "add")
	_, err = s.AddNote(ctx, v.ID, strings.Repeat("a", maxNoteRunes))
	wantFault(t, err, timeline.Invalid, "fault.text_too_long", "add")
}
