package salon

import (
	"reflect"
	"slices"
	"testing"
	"time"

	"thatch/timeline"
	"thatch/timeline/plan"
)

// onTheTable is a rolled dog with a show in sixty days, on the table today.
func onTheTable(t *testing.T) (*Salon, *clock, timeline.Dog, timeline.Session) {
	t.Helper()
	s, c := opened(t)
	today := day("2026-06-10")
	c.set(today - 14)
	d := newDog(t, s, "Wisp", today-14)
	c.set(today)
	must(s.AddShow(ctx, timeline.Show{Dog: d.ID, Name: "Hall Show", On: today + 60}))
	return s, c, d, must(s.OpenSession(ctx, d.ID, today))
}

func codesOf(sh Sheet) (out []string) {
	for _, st := range sh.Steps {
		out = append(out, st.Code)
	}
	return out
}

func TestASheetGoesInWorkingOrderWithALookAfterEachGroup(t *testing.T) {
	s, _, _, v := onTheTable(t)
	sh := must(s.Sheet(ctx, v.ID))
	if len(sh.Lines()) < 6 {
		t.Fatalf("only %d lines", len(sh.Lines()))
	}
	got := codesOf(sh)
	if got[0] != "care" || got[1] != "brush" || got[len(got)-1] != "end" || slices.Index(got, "pinch") > slices.Index(got, string(sh.Lines()[0].Zone)) {
		t.Errorf("the steps are %v", got)
	}
	var group timeline.Group
	seen := map[timeline.Group]bool{}
	for i, st := range sh.Steps {
		if st.Kind == StepZone {
			if st.Group != group && seen[st.Group] {
				t.Errorf("%s comes twice", st.Group)
			}
			group, seen[st.Group] = st.Group, true
			if next := sh.Steps[i+1]; next.Kind != StepZone && next.Code != "look-"+string(st.Group) {
				t.Errorf("after %s comes %s", st.Code, next.Code)
			}
			if (st.Line.Tool == "") != (st.Line.Plan.Do == timeline.Leave) {
				t.Errorf("%s: tool %q", st.Code, st.Line.Tool)
			}
		}
	}
	order := []timeline.Group{timeline.GroupJacket, timeline.GroupLegs, timeline.GroupHead}
	at := -1
	for _, g := range order {
		if i := slices.Index(got, "look-"+string(g)); i >= 0 {
			if i < at {
				t.Errorf("%s is looked at too early: %v", g, got)
			}
			at = i
		}
	}
}

func TestDoneLogsExactlyTheLineAndUndoTakesItBack(t *testing.T) {
	s, _, _, v := onTheTable(t)
	sh := must(s.Sheet(ctx, v.ID))
	for _, l := range sh.Lines() {
		was := v
		next, undo, err := s.SheetDone(ctx, v.ID, v.Rev, string(l.Zone), SheetAnswer{})
		ok(err)
		want := timeline.ZoneWork{Zone: l.Zone, Do: l.Plan.Do, Share: l.Plan.Share, TopLayer: l.Plan.Top, Tool: l.Tool}
		i := slices.IndexFunc(next.Work, func(w timeline.ZoneWork) bool { return w.Zone == l.Zone })
		if i < 0 || next.Work[i] != want {
			t.Fatalf("%s: logged %+v, want %+v", l.Zone, next.Work, want)
		}
		back := must(s.SheetUndo(ctx, v.ID, next.Rev, undo))
		if !reflect.DeepEqual(back.Work, was.Work) {
			t.Errorf("%s: after undo %+v, before %+v", l.Zone, back.Work, was.Work)
		}
		v = back
	}
}

func TestWhatIsSaidOnTheLineIsLoggedAndDoneAgainKeepsWhatWasFound(t *testing.T) {
	s, _, _, v := onTheTable(t)
	l := must(s.Sheet(ctx, v.ID)).Lines()[0]
	v, _, err := s.SheetDone(ctx, v.ID, v.Rev, string(l.Zone), SheetAnswer{
		Do: timeline.Take, Share: timeline.ShareHalf, Tool: "stone", Ripeness: timeline.Ready, HairCheck: timeline.HairWhole, Skin: timeline.SkinFine, Remark: "stood well",
	})
	ok(err)
	want := timeline.ZoneWork{Zone: l.Zone, Do: timeline.Take, Share: timeline.ShareHalf, Tool: "stone", Ripeness: timeline.Ready, HairCheck: timeline.HairWhole, Skin: timeline.SkinFine, Remark: "stood well"}
	if len(v.Work) != 1 || v.Work[0] != want {
		t.Fatalf("logged %+v", v.Work)
	}
	first := v.Work[0]
	v, undo, err := s.SheetDone(ctx, v.ID, v.Rev, string(l.Zone), SheetAnswer{})
	ok(err)
	if w := v.Work[0]; w.Remark != "stood well" || w.HairCheck != timeline.HairWhole || w.Do != l.Plan.Do {
		t.Errorf("done again: %+v", w)
	}
	v = must(s.SheetUndo(ctx, v.ID, v.Rev, undo))
	if v.Work[0] != first {
		t.Errorf("undone: %+v, was %+v", v.Work[0], first)
	}
}

func TestNotReadyIsLeftAndThePlanTestsAgain(t *testing.T) {
	s, c, d, v := onTheTable(t)
	var zone timeline.Zone
	for _, l := range must(s.Sheet(ctx, v.ID)).Lines() {
		if l.Pulls() {
			zone = l.Zone
			break
		}
	}
	v, _, err := s.SheetNotReady(ctx, v.ID, v.Rev, zone, "")
	ok(err)
	if w := v.Work[0]; w.Do != timeline.Leave || w.Ripeness != timeline.NotReady {
		t.Fatalf("logged %+v", w)
	}
	c.set(day("2026-06-13"))
	must(s.BookNext(ctx, d.ID, must(s.Dog(ctx, d.ID)).Rev, day("2026-06-15")))
	told := false
	for _, l := range must(s.Plan(ctx, d.ID)).Sessions[0].Zones {
		if l.Zone == zone && (l.Do == timeline.Take || l.Do == timeline.Strip) {
			t.Errorf("five days later %s is pulled: %+v", zone, l)
		}
		told = told || l.Zone == zone && l.Why.Key == "why.not_ready"
	}
	if !told {
		t.Error("the plan does not say when to test it again")
	}
}

func TestAVersionThatIsNotTheNewestIsRefused(t *testing.T) {
	s, _, _, v := onTheTable(t)
	l := must(s.Sheet(ctx, v.ID)).Lines()[0]
	_, _, err := s.SheetDone(ctx, v.ID, v.Rev, string(l.Zone), SheetAnswer{})
	ok(err)
	_, _, err = s.SheetDone(ctx, v.ID, v.Rev, string(l.Zone), SheetAnswer{})
	wantFault(t, err, timeline.Conflict, "fault.store.changed", "")
	_, _, err = s.SheetDone(ctx, v.ID, v.Rev+1, "wing", SheetAnswer{})
	wantFault(t, err, timeline.Conflict, "fault.sheet.no_step", "")
	_, _, err = s.SheetDone(ctx, v.ID, v.Rev+1, string(l.Zone), SheetAnswer{Tool: "hammer"})
	wantFault(t, err, timeline.Invalid, "fault.word", "")
}

func TestHerOwnOrderStaysForHerNextVisitUntilSheTakesItBack(t *testing.T) {
	s, c, d, v := onTheTable(t)
	lines := must(s.Sheet(ctx, v.ID)).Lines()
	last := lines[len(lines)-1].Zone
	for range lines {
		v = must(s.MoveInSheet(ctx, v.ID, v.Rev, last, -1))
	}
	sh := must(s.Sheet(ctx, v.ID))
	if !sh.Own || sh.Lines()[0].Zone != last || len(sh.Lines()) != len(lines) {
		t.Fatalf("the order is %v", codesOf(sh))
	}
	v = must(s.SheetRest(ctx, v.ID, v.Rev))
	c.set(day("2026-06-24"))
	next := must(s.OpenSession(ctx, d.ID, day("2026-06-24")))
	sh = must(s.Sheet(ctx, next.ID))
	if !sh.Own {
		t.Error("two weeks later the usual order is back")
	}
	next = must(s.ArrangeSheet(ctx, next.ID, next.Rev, nil))
	var got, usual []timeline.Zone
	var plain []plan.Line
	for _, l := range must(s.Sheet(ctx, next.ID)).Lines() {
		got, plain = append(got, l.Zone), append(plain, l.Plan)
	}
	for _, l := range plan.SheetOrder(plain) {
		usual = append(usual, l.Zone)
	}
	if !slices.Equal(got, usual) {
		t.Errorf("taken back: %v, usual %v", got, usual)
	}
	_, err := s.ArrangeSheet(ctx, next.ID, next.Rev, []timeline.Zone{timeline.Back, timeline.Back})
	wantFault(t, err, timeline.Invalid, "fault.session.zone_twice", "order")
}

func TestAnAssistantSeesHerZonesAndWaitsForATeachersLook(t *testing.T) {
	s, _, _, v := onTheTable(t)
	lines := must(s.Sheet(ctx, v.ID)).Lines()
	hers, other := lines[0].Zone, lines[1].Zone
	v = must(s.Assist(ctx, v.ID, v.Rev, []timeline.Zone{hers}))
	sh := must(s.Sheet(ctx, v.ID))
	if n := len(sh.Lines()); n != 1 || sh.Lines()[0].Zone != hers || !slices.Contains(sh.Others, other) || sh.Lines()[0].Plan.Why.IsZero() {
		t.Fatalf("%d lines, others %v", n, sh.Others)
	}
	_, _, err := s.SheetDone(ctx, v.ID, v.Rev, string(other), SheetAnswer{})
	wantFault(t, err, timeline.Conflict, "fault.sheet.no_step", "")
	_, err = s.SaveSession(ctx, SessionEdit{ID: v.ID, Rev: v.Rev, Work: []timeline.ZoneWork{{Zone: other, Do: timeline.Tidy}}})
	wantFault(t, err, timeline.Invalid, "fault.sheet.not_hers", "zones")
	v, _, err = s.SheetDone(ctx, v.ID, v.Rev, string(hers), SheetAnswer{})
	ok(err)
	_, err = s.AllDone(ctx, v.ID, v.Rev, Finish{})
	wantFault(t, err, timeline.Invalid, "fault.sheet.teacher", "looked")
	v = must(s.TeacherLooked(ctx, v.ID, v.Rev))
	again, _, err := s.SheetDone(ctx, v.ID, v.Rev, string(hers), SheetAnswer{Remark: "one more"})
	ok(err)
	_, err = s.AllDone(ctx, again.ID, again.Rev, Finish{})
	wantFault(t, err, timeline.Invalid, "fault.sheet.teacher", "looked") // the look was of what was there before
	v = must(s.TeacherLooked(ctx, v.ID, again.Rev))
	if v = must(s.AllDone(ctx, v.ID, v.Rev, Finish{})); v.Sheet.Done.IsZero() {
		t.Error("not done")
	}
	v = must(s.Assist(ctx, v.ID, v.Rev, nil))
	if n := len(must(s.Sheet(ctx, v.ID)).Lines()); n < len(lines)-1 {
		t.Errorf("%d lines after the teacher took it back, %d before", n, len(lines))
	}
}

func TestAllDoneTakesTheMinutesFromTheClockAndBooksTheNextVisit(t *testing.T) {
	s, c, d, v := onTheTable(t)
	v = must(s.SheetRest(ctx, v.ID, v.Rev))
	if n := len(must(s.Sheet(ctx, v.ID)).Waiting()); n != 0 {
		t.Errorf("%d lines still wait", n)
	}
	c.at.Add(int64(83 * time.Minute / time.Second))
	sh := must(s.Sheet(ctx, v.ID))
	if sh.Next != day("2026-06-24") {
		t.Errorf("the next visit is proposed for %s", sh.Next)
	}
	v = must(s.AllDone(ctx, v.ID, v.Rev, Finish{Next: sh.Next}))
	if v.Minutes != 85 || must(s.Dog(ctx, d.ID)).Cadence.Next != sh.Next {
		t.Errorf("%d minutes, next %s", v.Minutes, must(s.Dog(ctx, d.ID)).Cadence.Next)
	}
	v = must(s.ReopenSheet(ctx, v.ID, v.Rev))
	if !v.Sheet.Done.IsZero() || v.Minutes != 85 {
		t.Errorf("opened again: %+v", v.Sheet)
	}
}

func TestTheSheetOfADayToComeIsThereTheEveningBefore(t *testing.T) {
	s, _, d, _ := onTheTable(t)
	must(s.BookNext(ctx, d.ID, d.Rev, day("2026-06-11")))
	sh := must(s.SheetOn(ctx, d.ID, day("2026-06-11")))
	if sh.Session != nil || len(sh.Lines()) == 0 {
		t.Errorf("%d lines, session %v", len(sh.Lines()), sh.Session)
	}
	if sh = must(s.SheetOn(ctx, d.ID, day("2026-06-12"))); len(sh.Steps) != 0 {
		t.Errorf("a day without a visit has steps %v", codesOf(sh))
	}
}

func TestWhatHurtAndWhatWasRemarkedStandBeforeTheLine(t *testing.T) {
	s, c, d, v := onTheTable(t)
	zone := must(s.Sheet(ctx, v.ID)).Lines()[0].Zone
	c.set(day("2026-06-03"))
	old := must(s.OpenSession(ctx, d.ID, day("2026-06-03")))
	must(s.SaveSession(ctx, SessionEdit{ID: old.ID, Rev: old.Rev, Minutes: 10, Work: []timeline.ZoneWork{{Zone: zone, Do: timeline.Leave, Skin: timeline.SkinPink, HairCheck: timeline.HairCut, Remark: "Flinched."}}}))
	c.set(day("2026-06-10"))
	sh := must(s.Sheet(ctx, v.ID))
	st := sh.Step(string(zone))
	if st.Line.Past.Hurt == nil || st.Line.Past.Remark != "Flinched." || !st.Line.HairWasCut || st.Line.Tool != "fingers" {
		t.Errorf("%+v", st.Line)
	}
	if !slices.ContainsFunc(sh.Careful, func(l SheetLine) bool { return l.Zone == zone }) {
		t.Error("it is not told before the first line")
	}
	if sh.Longer != 10 {
		t.Errorf("a sheet of %.0f minutes after visits of 10 is not said to be long: %d", sh.Minutes, sh.Longer)
	}
}
