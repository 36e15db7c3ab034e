package pages

import (
	"net/http"
	"strings"

	"thatch/server/salon"
	"thatch/timeline"
)

type combsPage struct {
	frame
	salon.Combs
	Form     form
	On       timeline.Day
	Ask      timeline.Zone // whose depth a comb should read today; "": none
	Warnings []salon.ReadingWarning
}

var combsView = declare[combsPage]("combs")

func (s *Site) combs(w http.ResponseWriter, r *http.Request) error {
	f := form{}
	if on, err := timeline.ParseDay(r.URL.Query().Get("on")); err == nil {
		f.Values = map[string][]string{"on": {on.String()}}
	}
	return s.showCombs(w, r, 0, f, nil)
}

func (s *Site) showCombs(w http.ResponseWriter, r *http.Request, code int, f form, warnings []salon.ReadingWarning) error {
	dog, today, err := s.dogToday(r)
	if err != nil {
		return err
	}
	all, err := s.salon.Combs(r.Context(), dog.ID)
	if err != nil {
		return err
	}
	ask, err := s.salon.CombAsked(r.Context(), dog.ID, today)
	if err != nil {
		return err
	}
	return combsView.show(s, w, r, combsPage{frame: frame{Status: code, Tab: "readings", Dog: navOf(dog)}, Combs: all, Form: f, On: today, Ask: ask, Warnings: warnings})
}

// addCombs reads one field a zone; several readings of it are separated by spaces.
func (s *Site) addCombs(w http.ResponseWriter, r *http.Request) error {
	f, err := readForm(w, r)
	if err != nil {
		return err
	}
	dog := idOf(r, "id")
	on, err := f.day("on")
	depths := map[timeline.Zone][]float64{}
	for _, z := range timeline.Zones() {
		name := "mm_" + string(z)
		for _, one := range strings.FieldsFunc(f.text(name), func(c rune) bool { return c == ' ' || c == ';' }) {
			if err != nil {
				break
			}
			var mm float64
			single := form{Values: map[string][]string{name: {one}}}
			mm, err = single.length(r, name)
			depths[z] = append(depths[z], mm)
		}
	}
	phase := timeline.PhaseStart
	if f.Get("phase") != "" {
		phase = timeline.Phase(f.Get("phase"))
	}
	var added salon.ReadingsAdded
	if err == nil {
		added, err = s.salon.AddCombs(r.Context(), dog, on, phase, depths, f.Get("confirmed") != "")
	}
	if err != nil {
		return f.again(err, func(code int) error { return s.showCombs(w, r, code, f, nil) })
	}
	if !added.Stored {
		return s.showCombs(w, r, http.StatusUnprocessableEntity, f, added.Warnings)
	}
	sayNext(w, r, "readings.saved", "", "")
	return seeOther(w, r, "/dogs/"+string(dog)+"/combs")
}
