package store

import (
	"context"
	"slices"
	"strings"
	"testing"
	"time"

	tl "thatch/timeline"
)

// apart are the tables that nothing of a dog is read from.
var apart = []string{
	"zone", "point", "tool", "job", "heap", "stamp", "photo_stamp", "person", "invitation", "owner_code", "spare_key", "login", "browser", "api_token", "audit",
	"backup_run", "once", "hands",
}

func TestEveryTableADogIsReadFromCountsItsChanges(t *testing.T) {
	s, ctx := newStore(t, Options{}), context.Background()
	column := func(q string) (out []string) {
		rows, err := s.writer.QueryContext(ctx, q)
		if err != nil {
			t.Fatal(err)
		}
		defer rows.Close()
		for rows.Next() {
			var v string
			if err := rows.Scan(&v); err != nil {
				t.Fatal(err)
			}
			out = append(out, v)
		}
		return out
	}
	triggers := column(`SELECT name FROM sqlite_schema WHERE type = 'trigger'`)
	for _, table := range column(`SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite_%'`) {
		if slices.Contains(apart, table) {
			continue
		}
		events := []string{"insert", "update", "delete"}
		if table == "original" { // its row comes before the photo's, which counts
			events = []string{"update"}
		}
		for _, e := range events {
			if !slices.Contains(triggers, "stamp_"+table+"_"+e) {
				t.Errorf("no trigger counts a dog's change by %s of %s", strings.ToUpper(e), table)
			}
		}
	}
}

func TestTheStampOfADogChangesWithHerAndOnlyWithHer(t *testing.T) {
	s, ctx := newStore(t, Options{}), context.Background()
	d := must(s.CreateDog(ctx, fullDog()))(t)
	other := fullDog()
	other.Name = "Another"
	o := must(s.CreateDog(ctx, other))(t)
	v := must(s.CreateSession(ctx, tl.Session{Dog: d.ID, On: tl.Date(2026, 5, 1)}))(t)
	p, _ := keep(t, s, d.ID, "one", "2026-05-01T09:30:00")
	sh := must(s.CreateShow(ctx, tl.Show{Dog: d.ID, Name: "The show", On: tl.Date(2026, 7, 1), Priority: 1}))(t)
	var reading tl.ID
	for _, c := range []struct {
		name   string
		do     func() error
		shared bool
	}{
		{"her name", func() error { d.Notes = "new"; var err error; d, err = s.UpdateDog(ctx, d); return err }, false},
		{"a log", func() error {
			v.Work = []tl.ZoneWork{{Zone: tl.Back, Do: tl.Take, Share: 0.5}}
			var err error
			v, err = s.UpdateSession(ctx, v)
			return err
		}, false},
		{"a reading", func() error {
			rs, err := s.AddReadings(ctx, []tl.Reading{{Dog: d.ID, Zone: tl.Back, On: tl.Date(2026, 5, 1), LengthMM: 20, SDMM: 1}})
			if err == nil {
				reading = rs[0].ID
			}
			return err
		}, false},
		{"a reading put aside", func() error { return s.TrashReading(ctx, reading) }, false},
		{"a point", func() error {
			var err error
			p, err = s.SaveLandmarks(ctx, p.ID, p.Rev, tl.Landmarks{"withers": {X: 3, Y: 4}})
			return err
		}, false},
		{"an edge", func() error {
			_, err := s.SaveEdge(ctx, tl.Edge{Photo: p.ID, Polygon: []tl.XY{{X: 1, Y: 2}, {X: 30, Y: 2}, {X: 20, Y: 40}}, Method: "hand"})
			return err
		}, false},
		{"a photo that is ready", func() error { return s.SetPhotoReady(ctx, p.SHA256, "") }, false},
		{"a marker that is seen", func() error { return s.SetMarkerLook(ctx, p.SHA256, tl.MarkerLook{}) }, false},
		{"a show's wish", func() error {
			sh.Targets = map[tl.Zone]tl.Range{tl.Back: {MinMM: 10, MaxMM: 20}}
			var err error
			sh, err = s.UpdateShow(ctx, sh)
			return err
		}, false},
		{"a link", func() error {
			_, err := s.CreateLink(ctx, tl.Link{Dog: d.ID, For: "her people", TokenHash: strings.Repeat("ab", 32), Expires: time.Now()})
			return err
		}, false},
		{"the settings", func() error {
			set := must(s.Settings(ctx))(t)
			set.SalonName = "Here"
			_, err := s.SaveSettings(ctx, set)
			return err
		}, true},
		{"a photo that is paired", func() error {
			p = must(s.Photo(ctx, p.ID))(t)
			p.Session = v.ID
			var err error
			p, err = s.UpdatePhoto(ctx, p)
			return err
		}, false},
		{"a session with photos, to the trash", func() error { return s.TrashSession(ctx, v.ID) }, false},
		{"a session with photos, back", func() error { return s.RestoreSession(ctx, v.ID) }, false},
		{"a photo, to the trash", func() error { return s.TrashPhoto(ctx, p.ID) }, false},
		{"a photo, back", func() error { return s.RestorePhoto(ctx, p.ID) }, false},
		{"a photo, moved away", func() error {
			p = must(s.Photo(ctx, p.ID))(t)
			p.Dog, p.Session = o.ID, ""
			var err error
			p, err = s.UpdatePhoto(ctx, p)
			return err
		}, true},
		{"herself, to the trash", func() error { return s.TrashDog(ctx, d.ID) }, false},
	} {
		wasPhotos, wasOthers := must(s.PhotoStamp(ctx, d.ID))(t), must(s.PhotoStamp(ctx, o.ID))(t)
		was, wasOther := must(s.Stamp(ctx, d.ID))(t), must(s.Stamp(ctx, o.ID))(t)
		if again := must(s.Stamp(ctx, d.ID))(t); again != was {
			t.Errorf("%s: the stamp changes by itself", c.name)
		}
		if err := c.do(); err != nil {
			t.Fatalf("%s: %v", c.name, err)
		}
		is, isOther := must(s.Stamp(ctx, d.ID))(t), must(s.Stamp(ctx, o.ID))(t)
		if is == was {
			t.Errorf("%s: the stamp stays", c.name)
		}
		ofPhotos := slices.Contains([]string{"a point", "an edge", "a photo that is ready", "a marker that is seen", "a photo that is paired",
			"a session with photos, to the trash", "a session with photos, back", "a photo, to the trash", "a photo, back", "a photo, moved away"}, c.name)
		if now := must(s.PhotoStamp(ctx, d.ID))(t); (now != wasPhotos) != ofPhotos {
			t.Errorf("%s: the stamp of her photos went from %d to %d", c.name, wasPhotos, now)
		}
		if now := must(s.PhotoStamp(ctx, o.ID))(t); (now != wasOthers) != (c.name == "a photo, moved away") {
			t.Errorf("%s: the stamp of the other dog's photos went from %d to %d", c.name, wasOthers, now)
		}
		if (isOther != wasOther) != c.shared {
			t.Errorf("%s: the other dog's stamp went from %v to %v", c.name, wasOther, isOther)
		}
	}
	if all := must(s.Stamps(ctx))(t); len(all) != 1 || all[o.ID] != must(s.Stamp(ctx, o.ID))(t) {
		t.Errorf("stamps of the dogs that are not in the trash: %v", all)
	}
}
