package pages

import (
	"cmp"
	"net/http"
	"net/url"
	"slices"

	"thatch/server/salon"
	"thatch/timeline"
)

type readingsPage struct {
	frame
	Name     string
	ID       timeline.ID
	On       timeline.Day
	Ask      timeline.Zone // whose depth a comb should read today; "": none
	Form     form
	Warnings []salon.ReadingWarning
	Days     []readingDay // newest first
	Card     *measureCard // nil: who asks only looks
	Many     bool         // the form of several zones is open
}

type readingDay struct {
	On       timeline.Day
	Readings []timeline.Reading // anatomical order
}

var readingsView = declare[readingsPage]("readings")

func (s *Site) readings(w http.ResponseWriter, r *http.Request) error {
	q := r.URL.Query()
	if _, err := timeline.ParseDay(q.Get("on")); err != nil {
		q.Del("on")
	}
	return s.showReadings(w, r, 0, form{Values: q}, nil)
}

func (s *Site) showReadings(w http.ResponseWriter, r *http.Request, code int, f form, warnings []salon.ReadingWarning) error {
	ctx := r.Context()
	dog, today, err := s.dogToday(r)
	if err != nil {
		return err
	}
	all, err := s.salon.Readings(ctx, dog.ID)
	if err != nil {
		return err
	}
	ask, err := s.salon.CombAsked(ctx, dog.ID, today)
	if err != nil {
		return err
	}
	p := readingsPage{Ask: ask, frame: frame{Status: code, Tab: "readings", Dog: navOf(dog)}, Name: dog.Name, ID: dog.ID, On: today, Form: f, Warnings: warnings}
	if mayChange(r) {
		card, err := s.measureCardOf(r, dog.ID, today, f)
		if err != nil {
			return err
		}
		if f.Has("mm") { // what is wrong is of the card, not of the long form
			card.Warnings, p.Warnings, p.Form = warnings, nil, form{Values: url.Values{"on": {cmp.Or(f.Get("day"), f.Get("on"))}}}
		} else {
			card.Form.Fault = nil
		}
		p.Card = &card
		p.Many = p.Form.Fault != nil || len(p.Warnings) > 0 || card.On != today
	}
	slices.SortStableFunc(all, func(a, b timeline.Reading) int {
		if a.On != b.On {
			return int(b.On - a.On)
		}
		return a.Zone.Order() - b.Zone.Order()
	})
	for _, x := range all {
		if n := len(p.Days); n == 0 || p.Days[n-1].On != x.On {
			p.Days = append(p.Days, readingDay{On: x.On})
		}
		last := &p.Days[len(p.Days)-1]
		last.Readings = append(last.Readings, x)
	}
	return readingsView.show(s, w, r, p)
}

func (s *Site) addReadings(w http.ResponseWriter, r *http.Request) error {
	f, err := readForm(w, r)
	if err != nil {
		return err
	}
	dog := idOf(r, "id")
	on, err := f.day("on")
	lengths := map[timeline.Zone]float64{}
	for _, z := range timeline.Zones() {
		name := "mm_" + string(z)
		if err != nil || f.text(name) == "" {
			continue
		}
		lengths[z], err = f.length(r, name)
	}
	var added salon.ReadingsAdded
	if err == nil {
		added, err = s.salon.AddReadings(r.Context(), dog, "", on, lengths, f.Get("confirmed") != "")
	}
	if err != nil {
		return f.again(err, func(code int) error { return s.showReadings(w, r, code, f, nil) })
	}
	if !added.Stored {
		return s.showReadings(w, r, http.StatusUnprocessableEntity, f, added.Warnings)
	}
	sayNext(w, r, "readings.saved", "", "")
	return seeOther(w, r, "/dogs/"+string(dog)+"/readings")
}

func (s *Site) trashReading(w http.ResponseWriter, r *http.Request) error {
	f, err := readForm(w, r)
	if err != nil {
		return err
	}
	id := idOf(r, "id")
	if err := s.salon.TrashReading(r.Context(), id); err != nil {
		return err
	}
	sayNext(w, r, "reading.trashed", "reading", id)
	return seeOther(w, r, f.Get("back"))
}
