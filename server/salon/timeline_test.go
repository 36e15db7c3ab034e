package salon

import (
	"encoding/json"
	"fmt"
	"reflect"
	"slices"
	"strings"
	"testing"

	"thatch/timeline"
	"thatch/timeline/coat"
)

// shape writes the keys and kinds of a JSON value; of a list and of a map by zone only the first element.
func shape(v any) string {
	switch v := v.(type) {
	case map[string]any:
		keys := make([]string, 0, len(v))
		for k := range v {
			keys = append(keys, k)
		}
		slices.Sort(keys)
		if timeline.Zone(keys[0]).Known() {
			return "{zone:" + shape(v["back"]) + "}"
		}
		parts := make([]string, len(keys))
		for i, k := range keys {
			parts[i] = k + ":" + shape(v[k])
		}
		return "{" + strings.Join(parts, " ") + "}"
	case []any:
		if len(v) == 0 {
			return "[]"
		}
		return "[" + shape(v[0]) + "]"
	case nil:
		return "null"
	}
	return fmt.Sprintf("%T", v)
}

func shapeOf(t *testing.T, v any) string {
	t.Helper()
	var out any
	ok(json.Unmarshal(must(json.Marshal(v)), &out))
	return shape(out)
}

func TestATimelineHasTheFormThatIsPromised(t *testing.T) {
	s, _ := opened(t)
	d := newDog(t, s, "Bracken", day("2026-05-27"))
	const dog = "{client:string id:string name:string profile:string sensitive:[] texture:string undercoat:string withers_mm:float64}"
	if got, want := shapeOf(t, must(s.Timeline(ctx, d.ID))), "{dog:"+dog+" sessions:[] shows:[] unpaired:[]}"; got != want {
		t.Errorf("an empty timeline is\n%s, want\n%s", got, want)
	}
	v := must(s.OpenSession(ctx, d.ID, day("2026-05-27")))
	must(s.SaveSession(ctx, SessionEdit{ID: v.ID, Rev: v.Rev, Work: []timeline.ZoneWork{{Zone: timeline.Back, Do: timeline.Strip}}}))
	must(s.AddReadings(ctx, d.ID, v.ID, v.On, map[timeline.Zone]float64{timeline.Back: 22}, true))
	must(s.AddShow(ctx, timeline.Show{Dog: d.ID, Name: "Fair", On: day("2026-08-01")}))
	add(t, s, d.ID, "a.jpg", snap(t, 1, "2026-05-27 10:00"))
	add(t, s, d.ID, "b.jpg", snap(t, 2, ""))
	const photo = "{coat_state:string comparable:bool file:string phase:string sha256:string side:string taken_at:%s taken_local:%[1]s taken_source:string}"
	want := "{dog:" + dog + " sessions:[{breaks:float64 id:string minutes:float64 not_today:string note:string on:string photos:[" + fmt.Sprintf(photo, "string") +
		"] tolerance:string work:[{do:string hair_check:string ripeness:string share:float64 skin:string tool:string zone:string}]" +
		" zones:{zone:{expected_mm:{median:float64 p10:float64 p90:float64} measured_mm:{by:string median:float64 of:string sd:float64} target_mm:{max:float64 min:float64}}}}]" +
		" shows:[{name:string on:string}] unpaired:[" + fmt.Sprintf(photo, "null") + "]}"
	tl := must(s.Timeline(ctx, d.ID))
	if got := shapeOf(t, tl); got != want {
		t.Errorf("got\n%s, want\n%s", got, want)
	}
	if at := tl.Sessions[0].Photos[0].TakenAt; *at != "2026-05-27T10:00:00+01:00" {
		t.Errorf("taken at %s", *at)
	}
}

func TestATimelineIsOldestFirstWhateverTheOrderOfEntry(t *testing.T) {
	s, _ := opened(t)
	d := newDog(t, s, "Bracken", day("2026-05-01"))
	for i, on := range []string{"2026-06-03", "2026-05-06", "2026-05-20"} {
		must(s.OpenSession(ctx, d.ID, day(on)))
		add(t, s, d.ID, "x.jpg", snap(t, uint64(i), on+" 11:00"))
		add(t, s, d.ID, "y.jpg", snap(t, uint64(i)+10, on+" 09:00"))
	}
	tl := must(s.Timeline(ctx, d.ID))
	if !slices.IsSortedFunc(tl.Sessions, func(a, b TimelineSession) int { return int(a.On - b.On) }) || len(tl.Sessions) != 3 {
		t.Error("sessions are not in order")
	}
	for _, v := range tl.Sessions {
		if len(v.Photos) != 2 || *v.Photos[0].TakenLocal > *v.Photos[1].TakenLocal {
			t.Errorf("%s: photos %v", v.On, v.Photos)
		}
	}
}

// The forecast of a day must not have seen what it is tested by.
func TestWhatWasExpectedOfADayKnowsNothingOfThatDayOrLater(t *testing.T) {
	s, c := opened(t)
	d := newDog(t, s, "Bracken", day("2026-02-01"))
	season(t, s, c, d, 4)
	expected := func(i int) map[timeline.Zone]ZoneFigures { return must(s.Timeline(ctx, d.ID)).Sessions[i].Zones }
	before := []coat.Dist{*expected(1)[timeline.Back].ExpectedMM, *expected(2)[timeline.Back].ExpectedMM, *expected(3)[timeline.Back].ExpectedMM}
	third := must(s.Timeline(ctx, d.ID)).Sessions[2].Session
	must(s.AddReadings(ctx, d.ID, third.ID, third.On, map[timeline.Zone]float64{timeline.Back: 45}, true))
	third.Work = LogGroup(third.Work, timeline.GroupJacket, timeline.ZoneWork{Do: timeline.Strip})
	must(s.SaveSession(ctx, SessionEdit{ID: third.ID, Rev: third.Rev, Work: third.Work}))
	for i, same := range []bool{true, true, false} {
		if got := *expected(i + 1)[timeline.Back].ExpectedMM; (got == before[i]) != same {
			t.Errorf("session %d: expected %v before, %v after something of session 3 changed", i+2, before[i], got)
		}
	}
	c.set(day("2026-09-01"))
	if got := *expected(1)[timeline.Back].ExpectedMM; got != before[0] {
		t.Errorf("what was expected in spring changed by summer: %v, %v", before[0], got)
	}
}

func TestNothingIsExpectedBeforeTheFirstAnswers(t *testing.T) {
	s, _ := opened(t)
	d := newDog(t, s, "Bracken", day("2026-06-01"))
	v := must(s.OpenSession(ctx, d.ID, day("2026-05-01")))
	if z := must(s.Timeline(ctx, d.ID)).Sessions[0].Zones[timeline.Back]; z.ExpectedMM != nil || z.TargetMM == nil {
		t.Errorf("%+v", z)
	}
	_, err := s.Forecast(ctx, d.ID, v.On)
	wantFault(t, err, timeline.Invalid, "fault.forecast.before", "on")
	_, err = s.Forecast(ctx, d.ID, day("2099-01-01"))
	wantFault(t, err, timeline.Invalid, "fault.forecast.far", "on")
	_, err = s.Forecast(ctx, d.ID, 0)
	wantFault(t, err, timeline.Invalid, "fault.forecast.no_day", "on")
}

func TestTheCoatFileHoldsTheAnswersTheLogTheReadingsAndTheShows(t *testing.T) {
	s, _ := opened(t)
	first := day("2026-05-27")
	d := must(s.CreateDog(ctx, NewDog{
		Name: "Bracken", Sensitive: []timeline.Zone{timeline.Rump}, Minutes: 75,
		Answers: timeline.Answers{On: first, LastWorked: first - 14, Rolled: true, Undercoat: timeline.UndercoatHeavy, LongestWithersMM: 26},
	}))
	early := must(s.OpenSession(ctx, d.ID, first-7))
	must(s.SaveSession(ctx, SessionEdit{ID: early.ID, Rev: early.Rev, Work: []timeline.ZoneWork{{Zone: timeline.Back, Do: timeline.Strip}}}))
	v := must(s.OpenSession(ctx, d.ID, first))
	must(s.SaveSession(ctx, SessionEdit{ID: v.ID, Rev: v.Rev, Loft: timeline.LoftNone, Work: []timeline.ZoneWork{
		{Zone: timeline.Back, Do: timeline.Take, Share: timeline.ShareThird, Ripeness: timeline.Ready},
		{Zone: timeline.Loin, Do: timeline.Leave, Ripeness: timeline.NotReady},
	}}))
	must(s.AddReadings(ctx, d.ID, v.ID, first, map[timeline.Zone]float64{timeline.Withers: 28, timeline.Back: 27}, true))
	must(s.AddShow(ctx, timeline.Show{Dog: d.ID, Name: "Fair", On: day("2026-07-08"), Priority: 2, Targets: map[timeline.Zone]timeline.Range{timeline.Shoulder: {MaxMM: 14}}}))
	f := must(s.CoatFile(ctx, d.ID))
	ok(f.Validate())
	if f.Today != day("2026-06-10") || f.Dog.Undercoat != timeline.UndercoatHeavy || len(f.Zones) != len(timeline.Zones()) {
		t.Errorf("head of the file: %+v", f)
	}
	back, loin, withers := f.Zones[timeline.Back], f.Zones[timeline.Loin], f.Zones[timeline.Withers]
	if want := []coat.WorkDone{{On: first, Do: timeline.Card, Loft: timeline.LoftNone}, {On: first, Do: timeline.Take, Share: timeline.ShareThird}}; !reflect.DeepEqual(back.Work, want) {
		t.Errorf("work on the back %+v, want %+v: what was done before the answers is in them already", back.Work, want)
	}
	if back.Ripeness != nil || loin.Ripeness == nil || loin.Ripeness.Is != timeline.NotReady || len(loin.Work) != 1 {
		t.Errorf("ripe hair that was pulled %v, unripe that was left %v, work on the loin %v", back.Ripeness, loin.Ripeness, loin.Work)
	}
	if len(withers.Measured) != 1 || withers.Measured[0].LengthMM != 28 || withers.Measured[0].SDMM != rulerSDMM {
		t.Errorf("withers %+v: the ruler takes the place of what was told", withers.Measured)
	}
	if !f.Zones[timeline.Rump].Sensitive || back.Sensitive {
		t.Error("the sensitive zone is not told")
	}
	profile := must(coat.ProfileNamed("rough"))
	if len(f.Shows) != 1 || f.Shows[0].Priority != 2 || f.Shows[0].Targets[timeline.Shoulder] != (coat.Target{MaxMM: 14, InHair: profile.Zones[timeline.Shoulder].Target.InHair}) {
		t.Errorf("shows %+v", f.Shows)
	}
	want := &coat.Sessions{Dates: []timeline.Day{day("2026-06-10"), day("2026-06-24")}, Minutes: 75}
	if !reflect.DeepEqual(f.Sessions, want) {
		t.Errorf("sessions %+v, want %+v", f.Sessions, want)
	}
}

func TestSessionDaysRunFromTheBookingOrFromTheLastSessionToTheLastShow(t *testing.T) {
	today := day("2026-06-10")
	worked := func(on timeline.Day) timeline.Session {
		return timeline.Session{On: on, Work: []timeline.ZoneWork{{Zone: timeline.Back, Do: timeline.Tidy}}}
	}
	for name, c := range map[string]struct {
		next     timeline.Day
		sessions []timeline.Session
		shows    []timeline.Day
		want     []timeline.Day
	}{
		"no show, no days":                        {today, nil, nil, nil},
		"a show that has been, no days":           {today, nil, []timeline.Day{today - 3}, nil},
		"from the booking":                        {today + 3, nil, []timeline.Day{today + 40}, []timeline.Day{today + 3, today + 17, today + 31}},
		"never on the day of the last show":       {today + 3, nil, []timeline.Day{today + 17}, []timeline.Day{today + 3}},
		"to the last of two shows":                {today + 3, nil, []timeline.Day{today + 10, today + 20}, []timeline.Day{today + 3, today + 17}},
		"two weeks after the last session":        {0, []timeline.Session{worked(today - 9)}, []timeline.Day{today + 20}, []timeline.Day{today + 5, today + 19}},
		"but not before today":                    {0, []timeline.Session{worked(today - 60)}, []timeline.Day{today + 10}, []timeline.Day{today}},
		"a booking that was missed is none":       {today - 2, []timeline.Session{worked(today - 16)}, []timeline.Day{today + 10}, []timeline.Day{today}},
		"today is spent once it has been worked":  {today, []timeline.Session{worked(today)}, []timeline.Day{today + 20}, []timeline.Day{today + 14}},
		"a session opened but not worked is open": {today, []timeline.Session{{On: today}}, []timeline.Day{today + 10}, []timeline.Day{today}},
		"booked after the show":                   {today + 30, nil, []timeline.Day{today + 10}, nil},
	} {
		t.Run(name, func(t *testing.T) {
			h := history{dog: timeline.Dog{Cadence: timeline.Cadence{Next: c.next, EveryDays: 14}}, today: today, sessions: c.sessions}
			for _, on := range c.shows {
				h.shows = append(h.shows, timeline.Show{On: on})
			}
			if got := h.sessionDates(today); !slices.Equal(got, c.want) {
				t.Errorf("got %v, want %v", got, c.want)
			}
		})
	}
}

func TestAPlanThatCannotBeMadeSaysWhatIsMissingAndThePagesStillShow(t *testing.T) {
	s, _ := opened(t)
	d := newDog(t, s, "Bracken", day("2026-06-01"))
	_, err := s.Plan(ctx, d.ID)
	wantFault(t, err, timeline.Invalid, "fault.plan.no_show", "shows")
	must(s.AddShow(ctx, timeline.Show{Dog: d.ID, Name: "Fair", On: day("2026-06-20")}))
	must(s.BookNext(ctx, d.ID, d.Rev, day("2026-06-25")))
	_, err = s.Plan(ctx, d.ID)
	wantFault(t, err, timeline.Invalid, "fault.show.no_session_before", "next")
	if p := must(s.DogPage(ctx, d.ID)); p.Plan != nil || p.PlanFault == nil || p.Card.NextShow == nil || len(p.Forecast.Zones) == 0 {
		t.Errorf("dog page: plan %v, fault %v", p.Plan, p.PlanFault)
	}
	if p := must(s.PlanPage(ctx, d.ID)); p.Plan != nil || p.PlanFault == nil || p.Booked == nil {
		t.Errorf("plan page: plan %v, fault %v", p.Plan, p.PlanFault)
	}
	must(s.HomePage(ctx))
}

func TestAChartRunsFromTheAnswersThroughTheShowAndMeetsTheRuler(t *testing.T) {
	s, c := opened(t)
	d := newDog(t, s, "Bracken", day("2026-04-01"))
	season(t, s, c, d, 4)
	c.set(day("2026-05-20"))
	show := must(s.AddShow(ctx, timeline.Show{Dog: d.ID, Name: "Fair", On: day("2026-07-15"), Targets: map[timeline.Zone]timeline.Range{timeline.Back: {MinMM: 20, MaxMM: 30}}}))
	ch := must(s.Chart(ctx, d.ID, timeline.Back))
	n := len(ch.Days)
	if n != len(ch.LongestMM) || n != len(ch.VisibleMM) || n-ch.PlannedAt != len(ch.PlannedMM) || ch.Days[0] != d.Answers.On || ch.Days[n-1] < show.On {
		t.Fatalf("%d days %s to %s, %d and %d and %d from %d", n, ch.Days[0], ch.Days[n-1], len(ch.LongestMM), len(ch.VisibleMM), len(ch.PlannedMM), ch.PlannedAt)
	}
	if !slices.IsSorted(ch.Days) || ch.Days[ch.PlannedAt] != ch.Today || len(ch.Readings) != 4 || len(ch.Sessions) != 4 || len(ch.Bands) != 2 {
		t.Errorf("%d readings, %d sessions, %d bands", len(ch.Readings), len(ch.Sessions), len(ch.Bands))
	}
	if b := ch.Bands[0]; b.To != show.On || b.Show.ID != show.ID || b.Target.Min != 20 || *b.Target.Max != 30 || ch.Bands[1].Show.ID != "" {
		t.Errorf("bands %+v", ch.Bands)
	}
	for i, v := range ch.VisibleMM {
		l := ch.LongestMM[i]
		if v.P10 > v.Median || v.Median > v.P90 || l.P10 > l.Median || l.Median > l.P90 || v.Median > l.Median+1e-9 {
			t.Errorf("%s: visible %v, longest %v", ch.Days[i], v, l)
		}
	}
	// A quarter of the longest hair was taken: the line drops from the session's day to the next.
	i, _ := slices.BinarySearch(ch.Days, ch.Sessions[1].On)
	if ch.Days[i+1] != ch.Days[i]+1 || ch.LongestMM[i+1].Median >= ch.LongestMM[i].Median {
		t.Errorf("longest %v on %s, %v the day after", ch.LongestMM[i], ch.Days[i], ch.LongestMM[i+1])
	}
	_, err := s.Chart(ctx, d.ID, "wing")
	wantFault(t, err, timeline.Invalid, "fault.zone.unknown", "zone")
}

func TestWhatHurtLastTimeIsReadBeforeTheHandReachesIt(t *testing.T) {
	s, _ := opened(t)
	d := newDog(t, s, "Bracken", day("2026-05-01"))
	log := func(on string, line timeline.ZoneWork) timeline.Session {
		v := must(s.OpenSession(ctx, d.ID, day(on)))
		line.Zone = timeline.Rump
		return must(s.SaveSession(ctx, SessionEdit{ID: v.ID, Rev: v.Rev, Work: []timeline.ZoneWork{line}}))
	}
	log("2026-05-13", timeline.ZoneWork{Do: timeline.Take, Share: 0.25, Skin: timeline.SkinPink, Remark: "flinched"})
	log("2026-05-27", timeline.ZoneWork{Do: timeline.Take, Share: 0.1, Skin: timeline.SkinFine, HairCheck: timeline.HairWhole})
	v := must(s.OpenSession(ctx, d.ID, day("2026-06-10")))
	page := must(s.SessionPage(ctx, v.ID))
	if len(page.Zones) != len(timeline.Zones()) || page.Previous == nil || page.Previous.On != day("2026-05-27") || page.Following != nil {
		t.Fatalf("%d zones, previous %v", len(page.Zones), page.Previous)
	}
	z := page.Zones[timeline.Rump.Order()]
	if z.Hurt == nil || z.Hurt.Remark != "flinched" || z.HurtOn != day("2026-05-13") || z.LastOn != day("2026-05-27") || z.Last.Share != 0.1 || z.Line != nil {
		t.Errorf("%+v", z)
	}
	if z := page.Zones[timeline.Back.Order()]; z.Hurt != nil || z.Last != nil {
		t.Errorf("%+v", z)
	}
}
