package salon

import (
	"math"
	"strings"
	"testing"

	"thatch/timeline"
)

func TestADogStartsFromANameAndFourAnswers(t *testing.T) {
	s, _ := opened(t)
	d, err := s.CreateDog(ctx, NewDog{Name: "  Bracken "})
	ok(err)
	today := day("2026-06-10")
	if d.Name != "Bracken" || d.Profile != "rough" || d.Answers.On != today || d.Answers.Undercoat != timeline.UndercoatSome || d.Cadence.EveryDays != 14 || d.Rev == 0 {
		t.Fatalf("%+v", d)
	}
	if f := must(s.Forecast(ctx, d.ID, today)); len(f.Zones) != len(timeline.Zones()) || f.Zones[timeline.Back].LongestMM.Median <= 0 {
		t.Fatalf("no forecast right away: %+v", f)
	}
	if got := must(s.FindDog(ctx, "bRACKEN")); got.ID != d.ID {
		t.Error("not found by name")
	}
	if got := must(s.FindDog(ctx, string(d.ID))); got.ID != d.ID {
		t.Error("not found by ID")
	}
	_, err = s.FindDog(ctx, "Nobody")
	wantFault(t, err, timeline.NotFound, "fault.dog.unknown", "dog")
}

func TestWhatADogCannotBeIsRefusedFieldByField(t *testing.T) {
	s, _ := opened(t)
	today := day("2026-06-10")
	for name, c := range map[string]struct {
		n          NewDog
		key, field string
	}{
		"without a name":             {NewDog{Name: " \t"}, "fault.dog.name_empty", "name"},
		"with a name like a novel":   {NewDog{Name: strings.Repeat("x", 81)}, "fault.text_too_long", "name"},
		"as low as a mouse":          {NewDog{Name: "A", WithersMM: 30}, "fault.dog.withers", "withers_mm"},
		"of no number's height":      {NewDog{Name: "A", WithersMM: math.NaN()}, "fault.dog.withers", "withers_mm"},
		"of an unknown coat":         {NewDog{Name: "A", Profile: "scales"}, "fault.coat.profile", "profile"},
		"of unknown texture":         {NewDog{Name: "A", Texture: "wiry"}, "fault.word", "texture"},
		"of unknown undercoat":       {NewDog{Name: "A", Answers: timeline.Answers{Undercoat: "lots"}}, "fault.word", "answers.undercoat"},
		"seen tomorrow":              {NewDog{Name: "A", Answers: timeline.Answers{On: today + 1}}, "fault.day.future", "answers.on"},
		"worked after she was seen":  {NewDog{Name: "A", Answers: timeline.Answers{On: today - 3, LastWorked: today - 2}}, "fault.dog.last_worked", "answers.last_worked"},
		"with hair of half a metre":  {NewDog{Name: "A", Answers: timeline.Answers{LongestWithersMM: 500}}, "fault.length_range", "answers.longest_withers_mm"},
		"sensitive in no known zone": {NewDog{Name: "A", Sensitive: []timeline.Zone{"wing"}}, "fault.zone.unknown", "sensitive[0]"},
		"booked for yesterday":       {NewDog{Name: "A", Next: today - 1}, "fault.dog.next_past", "next"},
		"booked every other year":    {NewDog{Name: "A", EveryDays: 700}, "fault.dog.every_days", "every_days"},
		"with a minute's table time": {NewDog{Name: "A", Minutes: 1}, "fault.dog.minutes", "minutes"},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := s.CreateDog(ctx, c.n)
			wantFault(t, err, timeline.Invalid, c.key, c.field)
		})
	}
	if n := len(must(s.Dogs(ctx))); n != 0 {
		t.Fatalf("%d dogs stayed", n)
	}
}

func TestABookingThatHasGoneByDoesNotKeepTheNameFromBeingMended(t *testing.T) {
	s, c := opened(t)
	d := newDog(t, s, "Brackn", day("2026-06-01"))
	d = must(s.BookNext(ctx, d.ID, d.Rev, day("2026-06-12")))
	c.set(day("2026-06-20"))
	d.Name = "Bracken"
	if d = must(s.UpdateDog(ctx, d)); d.Name != "Bracken" || d.Cadence.Next != day("2026-06-12") {
		t.Fatalf("%+v", d)
	}
	_, err := s.BookNext(ctx, d.ID, d.Rev, day("2026-06-13"))
	wantFault(t, err, timeline.Invalid, "fault.dog.next_past", "next")
	if d = must(s.BookNext(ctx, d.ID, d.Rev, 0)); !d.Cadence.Next.IsZero() {
		t.Error("the booking was not taken back")
	}
	d.Rev--
	if _, err := s.UpdateDog(ctx, d); timeline.KindOf(err) != timeline.Conflict {
		t.Errorf("an old version: %v", err)
	}
}

func TestASessionIsOpenedOnceADayAndNeverForAnotherDay(t *testing.T) {
	s, _ := opened(t)
	d := newDog(t, s, "Bracken", day("2026-06-01"))
	a := must(s.OpenSession(ctx, d.ID, day("2026-06-10")))
	b := must(s.OpenSession(ctx, d.ID, day("2026-06-10")))
	if a.ID != b.ID {
		t.Fatal("two sessions on one day")
	}
	_, err := s.OpenSession(ctx, d.ID, day("2026-06-11"))
	wantFault(t, err, timeline.Invalid, "fault.session.future", "on")
	_, err = s.OpenSession(ctx, d.ID, 0)
	wantFault(t, err, timeline.Invalid, "fault.session.no_day", "on")
	_, err = s.OpenSession(ctx, "nobody", day("2026-06-10"))
	if timeline.KindOf(err) != timeline.NotFound {
		t.Errorf("for no dog: %v", err)
	}
}

func TestTheDayOfTheSalonDecidesNotTheMachines(t *testing.T) {
	s, c := opened(t)
	d := newDog(t, s, "Bracken", day("2026-06-01"))
	c.at.Store(day("2026-06-10").Time().Unix() + 23*3600 + 1800) // 23:30 UTC is half past midnight in London
	if got := must(s.Today(ctx)); got != day("2026-06-11") {
		t.Fatalf("today is %s", got)
	}
	must(s.OpenSession(ctx, d.ID, day("2026-06-11")))
	set := must(s.Settings(ctx))
	for _, zone := range []string{"Local", "Mars/Olympus", "../../etc/localtime"} {
		set.Zone = zone
		_, err := s.SaveSettings(ctx, set)
		wantFault(t, err, timeline.Invalid, "fault.settings.zone", "zone")
	}
}

func TestALogIsKeptInAnatomicalOrderWithItsSharesFilledIn(t *testing.T) {
	s, _ := opened(t)
	d := newDog(t, s, "Bracken", day("2026-06-01"))
	v := must(s.OpenSession(ctx, d.ID, day("2026-06-10")))
	work := LogGroup(nil, timeline.GroupJacket, timeline.ZoneWork{Do: timeline.Take, TopLayer: true, Ripeness: timeline.Ready})
	work = append(work,
		timeline.ZoneWork{Zone: timeline.Feet, Do: timeline.Scissor, Share: 0.4},
		timeline.ZoneWork{Zone: timeline.Skull, Do: timeline.Strip, Share: 0.2, Skin: timeline.SkinPink, Remark: "a little pink"})
	saved := must(s.SaveSession(ctx, SessionEdit{ID: v.ID, Rev: v.Rev, Minutes: 90, Loft: timeline.LoftNone, Note: " calm ", Work: work, Next: day("2026-06-24")}))
	if saved.Rev == v.Rev || saved.Note != "calm" || len(saved.Work) != 7 || saved.Work[0].Zone != timeline.Skull || saved.Work[6].Zone != timeline.Feet {
		t.Fatalf("%+v", saved)
	}
	for _, w := range saved.Work {
		switch w.Do {
		case timeline.Strip:
			if w.Share != 1 {
				t.Errorf("a full strip of share %v", w.Share)
			}
		case timeline.Scissor:
			if w.Share != 0 {
				t.Errorf("scissoring pulls %v", w.Share)
			}
		case timeline.Take:
			if w.Share <= 0 || w.Share >= 1 || !w.TopLayer {
				t.Errorf("%s: top layer is a share of %v of a coat of several layers", w.Zone, w.Share)
			}
		}
	}
	if d = must(s.Dog(ctx, d.ID)); d.Cadence.Next != day("2026-06-24") {
		t.Error("the next visit was not booked")
	}
	_, err := s.SaveSession(ctx, SessionEdit{ID: v.ID, Rev: v.Rev})
	if timeline.KindOf(err) != timeline.Conflict {
		t.Errorf("an old version: %v", err)
	}
}

func TestWhatCannotBeLoggedIsRefusedLineByLine(t *testing.T) {
	s, _ := opened(t)
	d := newDog(t, s, "Bracken", day("2026-06-01"))
	v := must(s.OpenSession(ctx, d.ID, day("2026-06-10")))
	back := func(w timeline.ZoneWork) []timeline.ZoneWork {
		w.Zone = timeline.Back
		return []timeline.ZoneWork{{Zone: timeline.Loin, Do: timeline.Leave}, w}
	}
	for name, c := range map[string]struct {
		e          SessionEdit
		key, field string
	}{
		"an unknown zone":          {SessionEdit{Work: []timeline.ZoneWork{{Zone: "wing", Do: timeline.Strip}}}, "fault.zone.unknown", "work[0].zone"},
		"a zone twice":             {SessionEdit{Work: []timeline.ZoneWork{{Zone: timeline.Back, Do: timeline.Strip}, {Zone: timeline.Back, Do: timeline.Tidy}}}, "fault.session.zone_twice", "work[1].zone"},
		"no work at all":           {SessionEdit{Work: back(timeline.ZoneWork{})}, "fault.word", "work[1].do"},
		"a take of nothing":        {SessionEdit{Work: back(timeline.ZoneWork{Do: timeline.Take})}, "fault.session.share", "work[1].share"},
		"a take of more than all":  {SessionEdit{Work: back(timeline.ZoneWork{Do: timeline.Take, Share: 1.2})}, "fault.session.share", "work[1].share"},
		"a take of no number":      {SessionEdit{Work: back(timeline.ZoneWork{Do: timeline.Take, Share: math.NaN()})}, "fault.session.share", "work[1].share"},
		"an unknown tool":          {SessionEdit{Work: back(timeline.ZoneWork{Do: timeline.Strip, Tool: "teeth"})}, "fault.word", "work[1].tool"},
		"an unknown ripeness":      {SessionEdit{Work: back(timeline.ZoneWork{Do: timeline.Strip, Ripeness: "juicy"})}, "fault.word", "work[1].ripeness"},
		"an unknown hair check":    {SessionEdit{Work: back(timeline.ZoneWork{Do: timeline.Strip, HairCheck: "odd"})}, "fault.word", "work[1].hair_check"},
		"an unknown skin":          {SessionEdit{Work: back(timeline.ZoneWork{Do: timeline.Strip, Skin: "blue"})}, "fault.word", "work[1].skin"},
		"an unknown cover":         {SessionEdit{Work: back(timeline.ZoneWork{Do: timeline.Strip, Cover: "some"})}, "fault.word", "work[1].cover"},
		"an unknown loft":          {SessionEdit{Loft: "fluffy"}, "fault.word", "loft"},
		"a session of two days":    {SessionEdit{Minutes: 3000}, "fault.session.minutes", "minutes"},
		"a next visit before this": {SessionEdit{Next: day("2026-06-10")}, "fault.session.next_before", "next"},
		"a next visit in the past": {SessionEdit{Next: day("2026-06-09")}, "fault.dog.next_past", "next"},
	} {
		t.Run(name, func(t *testing.T) {
			c.e.ID, c.e.Rev = v.ID, v.Rev
			_, err := s.SaveSession(ctx, c.e)
			wantFault(t, err, timeline.Invalid, c.key, c.field)
		})
	}
	if got := must(s.Session(ctx, v.ID)); got.Rev != v.Rev || len(got.Work) != 0 {
		t.Fatal("a refused log changed the session")
	}
}

func TestEverythingPutAsideComesBack(t *testing.T) {
	s, _ := opened(t)
	d := newDog(t, s, "Bracken", day("2026-05-01"))
	v := must(s.OpenSession(ctx, d.ID, day("2026-06-09")))
	p := add(t, s, d.ID, "a.jpg", snap(t, 1, "2026-06-09 10:00")).Photo
	r := must(s.AddReadings(ctx, d.ID, v.ID, v.On, map[timeline.Zone]float64{timeline.Back: 25}, true)).Readings[0]
	w := must(s.AddShow(ctx, timeline.Show{Dog: d.ID, Name: "Fair", On: day("2026-08-01")}))
	before := must(s.Timeline(ctx, d.ID))
	for _, c := range []struct {
		kind  string
		id    timeline.ID
		trash func() error
	}{
		{"session", v.ID, func() error { return s.TrashSession(ctx, v.ID) }},
		{"photo", p.ID, func() error { return s.TrashPhoto(ctx, p.ID) }},
		{"reading", r.ID, func() error { return s.TrashReading(ctx, r.ID) }},
		{"show", w.ID, func() error { return s.TrashShow(ctx, w.ID) }},
		{"dog", d.ID, func() error { return s.TrashDog(ctx, d.ID) }},
	} {
		ok(c.trash())
		list := must(s.Trash(ctx))
		if len(list) == 0 || list[0].Kind != c.kind || list[0].ID != c.id || list[0].Label == "" {
			t.Fatalf("%s is not in the trash: %+v", c.kind, list)
		}
		if c.kind == "session" {
			if got := must(s.Photo(ctx, p.ID)); got.Session != "" {
				t.Error("the photo of a session in the trash does not wait")
			}
		}
		ok(s.Restore(ctx, c.kind, c.id))
		if len(must(s.Trash(ctx))) != 0 {
			t.Fatalf("%s did not come back", c.kind)
		}
	}
	after := must(s.Timeline(ctx, d.ID))
	if len(after.Sessions) != 1 || len(after.Sessions[0].Photos) != 1 || len(after.Shows) != 1 ||
		*after.Sessions[0].Zones[timeline.Back].MeasuredMM != *before.Sessions[0].Zones[timeline.Back].MeasuredMM {
		t.Fatalf("before %+v\nafter %+v", before, after)
	}
	wantFault(t, s.Restore(ctx, "planet", d.ID), timeline.Invalid, "fault.word", "kind")
}

func TestASecondSessionOfADayKeepsTheFirstInTheTrash(t *testing.T) {
	s, _ := opened(t)
	d := newDog(t, s, "Bracken", day("2026-05-01"))
	first := must(s.OpenSession(ctx, d.ID, day("2026-06-09")))
	p := add(t, s, d.ID, "a.jpg", snap(t, 1, "2026-06-09 10:00")).Photo
	ok(s.TrashSession(ctx, first.ID))
	second := must(s.OpenSession(ctx, d.ID, day("2026-06-09")))
	if second.ID == first.ID || must(s.Photo(ctx, p.ID)).Session != second.ID {
		t.Fatal("the waiting photo was not paired with the second")
	}
	if err := s.RestoreSession(ctx, first.ID); timeline.KindOf(err) != timeline.Conflict {
		t.Fatalf("two sessions on a day: %v", err)
	}
	if _, err := s.Session(ctx, first.ID); timeline.KindOf(err) != timeline.NotFound {
		t.Fatalf("a session in the trash: %v", err)
	}
}

func TestShowsAreOfTheFutureAndAskOnlyWhatHairCanGive(t *testing.T) {
	s, c := opened(t)
	d := newDog(t, s, "Bracken", day("2026-05-01"))
	with := func(z timeline.Zone, low, high float64) timeline.Show {
		return timeline.Show{Name: "Fair", On: day("2026-08-01"), Targets: map[timeline.Zone]timeline.Range{z: {MinMM: low, MaxMM: high}}}
	}
	for name, x := range map[string]struct {
		v          timeline.Show
		key, field string
	}{
		"in the past":            {timeline.Show{Name: "Fair", On: day("2026-06-09")}, "fault.show.past", "on"},
		"in the next century":    {timeline.Show{Name: "Fair", On: day("2126-06-09")}, "fault.show.far", "on"},
		"without a day":          {timeline.Show{Name: "Fair"}, "fault.show.no_day", "on"},
		"without a name":         {timeline.Show{On: day("2026-08-01")}, "fault.show.name_empty", "name"},
		"of priority nine":       {timeline.Show{Name: "Fair", On: day("2026-08-01"), Priority: 9}, "fault.show.priority", "priority"},
		"for an unknown zone":    {with("wing", 5, 10), "fault.zone.unknown", "targets.wing"},
		"longest below shortest": {with(timeline.Back, 30, 20), "fault.show.target_order", "targets.back"},
		"longer than hair grows": {with(timeline.Back, 10, 300), "fault.show.target_reach", "targets.back"},
		"of a negative length":   {with(timeline.Back, -1, 10), "fault.show.target_range", "targets.back"},
		"of no number":           {with(timeline.Back, math.NaN(), 10), "fault.show.target_range", "targets.back"},
		"of nothing asked":       {with(timeline.Back, 0, 0), "fault.show.target_range", "targets.back"},
		"of an infinite wish":    {with(timeline.Back, math.Inf(1), 0), "fault.show.target_reach", "targets.back"},
	} {
		t.Run(name, func(t *testing.T) {
			x.v.Dog = d.ID
			_, err := s.AddShow(ctx, x.v)
			wantFault(t, err, timeline.Invalid, x.key, x.field)
		})
	}
	// FCI 169, wire fox terrier: coat about 2 cm on the shoulder, 4 cm on withers, back, ribs and quarters (E, check 28).
	v := must(s.AddShow(ctx, timeline.Show{Dog: d.ID, Name: "Fair", On: day("2026-08-01"), Targets: map[timeline.Zone]timeline.Range{
		timeline.Shoulder: {MinMM: 15, MaxMM: 20}, timeline.Withers: {MinMM: 30, MaxMM: 40}, timeline.Back: {MinMM: 30, MaxMM: 40},
		timeline.Ribs: {MinMM: 30, MaxMM: 40}, timeline.Thigh: {MinMM: 30, MaxMM: 40},
	}}))
	if v.Priority != 1 {
		t.Errorf("priority %d", v.Priority)
	}
	c.set(day("2026-09-01"))
	v.Name = "Old Fair"
	v = must(s.UpdateShow(ctx, v)) // a show that has been may be renamed
	v.On = day("2026-08-15")
	_, err := s.UpdateShow(ctx, v)
	wantFault(t, err, timeline.Invalid, "fault.show.past", "on")
}

func TestReadingsThatLookLikeSlipsAreAskedAboutFirst(t *testing.T) {
	s, _ := opened(t)
	on := day("2026-06-10")
	d := newDog(t, s, "Bracken", on)
	f := must(s.Forecast(ctx, d.ID, on))
	back, throat := math.Round(f.Zones[timeline.Back].LongestMM.Median), math.Round(f.Zones[timeline.Throat].LongestMM.Median)
	beard := math.Round(f.Zones[timeline.Beard].LongestMM.Median)
	for name, c := range map[string]struct {
		mm   map[timeline.Zone]float64
		keys map[timeline.Zone]string
	}{
		"an honest reading":     {map[timeline.Zone]float64{timeline.Back: back + 5}, nil},
		"centimetres":           {map[timeline.Zone]float64{timeline.Back: back / 10}, map[timeline.Zone]string{timeline.Back: "doubt.tenfold"}},
		"a decimal point lost":  {map[timeline.Zone]float64{timeline.Back: back * 10}, map[timeline.Zone]string{timeline.Back: "doubt.tenfold"}},
		"inches":                {map[timeline.Zone]float64{timeline.Back: back / 25.4}, map[timeline.Zone]string{timeline.Back: "doubt.inch"}},
		"two zones exchanged":   {map[timeline.Zone]float64{timeline.Throat: beard, timeline.Beard: throat}, map[timeline.Zone]string{timeline.Throat: "doubt.other_zone", timeline.Beard: "doubt.other_zone"}},
		"much longer than ever": {map[timeline.Zone]float64{timeline.Throat: 250}, map[timeline.Zone]string{timeline.Throat: "doubt.long"}},
	} {
		t.Run(name, func(t *testing.T) {
			got := must(s.AddReadings(ctx, d.ID, "", on, c.mm, false))
			if got.Stored != (len(c.keys) == 0) || len(got.Warnings) != len(c.keys) {
				t.Fatalf("stored %v, warnings %v", got.Stored, got.Warnings)
			}
			for _, w := range got.Warnings {
				if w.Say.Key != c.keys[w.Zone] {
					t.Errorf("%s: %s, want %s", w.Zone, w.Say, c.keys[w.Zone])
				}
			}
			if got.Stored {
				ok(s.TrashReading(ctx, got.Readings[0].ID))
			}
		})
	}
	slip := map[timeline.Zone]float64{timeline.Back: back * 10}
	if got := must(s.AddReadings(ctx, d.ID, "", on, slip, false)); got.Stored || len(must(s.Readings(ctx, d.ID))) != 0 {
		t.Fatal("a doubted reading was stored")
	}
	if got := must(s.AddReadings(ctx, d.ID, "", on, slip, true)); !got.Stored || len(must(s.Readings(ctx, d.ID))) != 1 {
		t.Fatal("a confirmed reading was not stored")
	}
}

func TestReadingsThatCannotBeAreRefused(t *testing.T) {
	s, _ := opened(t)
	d, other := newDog(t, s, "Bracken", day("2026-06-01")), newDog(t, s, "Teasel", day("2026-06-01"))
	v := must(s.OpenSession(ctx, d.ID, day("2026-06-09")))
	theirs := must(s.OpenSession(ctx, other.ID, day("2026-06-09")))
	one := func(z timeline.Zone, mm float64) map[timeline.Zone]float64 { return map[timeline.Zone]float64{z: mm} }
	for name, c := range map[string]struct {
		session    timeline.ID
		on         timeline.Day
		mm         map[timeline.Zone]float64
		key, field string
	}{
		"of an unknown zone":       {v.ID, v.On, one("wing", 10), "fault.zone.unknown", "readings.wing"},
		"of a negative length":     {v.ID, v.On, one(timeline.Back, -1), "fault.reading.range", "readings.back"},
		"of no number":             {v.ID, v.On, one(timeline.Back, math.NaN()), "fault.reading.range", "readings.back"},
		"of a metre":               {v.ID, v.On, one(timeline.Back, 1000), "fault.reading.range", "readings.back"},
		"of tomorrow":              {"", day("2026-06-11"), one(timeline.Back, 10), "fault.day.future", "on"},
		"of a day not its session": {v.ID, day("2026-06-08"), one(timeline.Back, 10), "fault.reading.other_day", "on"},
		"in another dog's session": {theirs.ID, v.On, one(timeline.Back, 10), "fault.reading.other_dog", "session"},
		"of nothing":               {v.ID, v.On, nil, "fault.reading.none", "readings"},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := s.AddReadings(ctx, d.ID, c.session, c.on, c.mm, true)
			wantFault(t, err, timeline.Invalid, c.key, c.field)
		})
	}
	got := must(s.AddReadings(ctx, d.ID, "", v.On, one(timeline.Back, 20), true))
	if got.Readings[0].Session != v.ID {
		t.Error("a reading of a session's day is not of the session")
	}
}
