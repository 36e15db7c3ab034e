package pages

import (
	"net/http"
	"strconv"

	"thatch/server/salon"
	"thatch/timeline"
)

type showsPage struct {
	frame
	DogDoc timeline.Dog
	Form   form
	Ahead  []aheadShow
	Past   []timeline.Show // newest first
}

var showsView = declare[showsPage]("shows")

func (s *Site) shows(w http.ResponseWriter, r *http.Request) error {
	return s.showShows(w, r, 0, form{})
}

func (s *Site) showShows(w http.ResponseWriter, r *http.Request, code int, f form) error {
	ctx := r.Context()
	dog, today, err := s.dogToday(r)
	if err != nil {
		return err
	}
	all, err := s.salon.Shows(ctx, dog.ID)
	if err != nil {
		return err
	}
	p := showsPage{frame: frame{Status: code, Tab: "shows", Dog: navOf(dog)}, DogDoc: dog, Form: f}
	for _, v := range all {
		if v.On >= today {
			p.Ahead = append(p.Ahead, aheadShow{Show: v, Days: int(v.On - today)})
		} else {
			p.Past = append([]timeline.Show{v}, p.Past...)
		}
	}
	return showsView.show(s, w, r, p)
}

func (s *Site) addShow(w http.ResponseWriter, r *http.Request) error {
	f, err := readForm(w, r)
	if err != nil {
		return err
	}
	v := timeline.Show{Dog: idOf(r, "id")}
	if err = showOf(f, &v); err == nil {
		_, err = s.salon.AddShow(r.Context(), v)
	}
	if err != nil {
		return f.again(err, func(code int) error { return s.showShows(w, r, code, f) })
	}
	sayNext(w, r, "show.saved", "", "")
	return seeOther(w, r, "/dogs/"+string(v.Dog)+"/shows")
}

func showOf(f form, v *timeline.Show) (err error) {
	v.Name = f.text("name")
	if v.On, err = f.day("on"); err != nil {
		return err
	}
	v.Priority, err = f.whole("priority", 1, 3)
	return err
}

type showPage struct {
	frame
	DogDoc timeline.Dog
	Show   timeline.Show
	Form   form
	Groups []targetGroup
	Bag    []salon.BagLine
	Packed int  // of Bag
	Near   bool // so near that its bag comes first
	Own    int  // zones whose wanted length is the show's own
}

// nearShowDays before a show its page is opened for the bag, not for its lengths. Judgement, no source.
const nearShowDays = 14

type targetGroup struct {
	Group timeline.Group
	Zones []targetZone
}

// targetZone is a zone's wanted length: what the show asks, and what is usual.
type targetZone struct {
	Zone     timeline.Zone
	Min, Max string // as typed
	Usual    *salon.TargetMM
}

var showView = declare[showPage]("show")

func (s *Site) show(w http.ResponseWriter, r *http.Request) error {
	v, err := s.salon.Show(r.Context(), idOf(r, "id"))
	if err != nil {
		return err
	}
	sp := speakerOf(visitOf(r).settings)
	f := form{Values: map[string][]string{"rev": {strconv.Itoa(int(v.Rev))}, "name": {v.Name}, "on": {v.On.String()}, "priority": {strconv.Itoa(v.Priority)}}}
	for z, t := range v.Targets {
		if t.MinMM > 0 {
			f.Set("min_"+string(z), sp.LengthNumber(t.MinMM))
		}
		if t.MaxMM > 0 {
			f.Set("max_"+string(z), sp.LengthNumber(t.MaxMM))
		}
	}
	return s.showShow(w, r, 0, f)
}

func (s *Site) showShow(w http.ResponseWriter, r *http.Request, code int, f form) error {
	ctx := r.Context()
	v, err := s.salon.Show(ctx, idOf(r, "id"))
	if err != nil {
		return err
	}
	dog, err := s.salon.Dog(ctx, v.Dog)
	if err != nil {
		return err
	}
	usual, err := s.salon.UsualTargets(ctx, dog.ID)
	if err != nil {
		return err
	}
	p := showPage{frame: frame{Status: code, Tab: "shows", Dog: navOf(dog)}, DogDoc: dog, Show: v, Form: f}
	if p.Bag, err = s.salon.Bag(ctx, v.ID); err != nil {
		return err
	}
	for _, b := range p.Bag {
		if b.On {
			p.Packed++
		}
	}
	today, err := s.salon.Today(ctx)
	if err != nil {
		return err
	}
	days := int(v.On - today)
	p.Near, p.Own = days >= 0 && days <= nearShowDays, len(v.Targets)
	for _, g := range timeline.Groups() {
		group := targetGroup{Group: g}
		for _, z := range g.Zones() {
			if usual[z] == nil && f.Get("min_"+string(z)) == "" && f.Get("max_"+string(z)) == "" {
				continue // shaped or tidied: no band is asked
			}
			group.Zones = append(group.Zones, targetZone{z, f.Get("min_" + string(z)), f.Get("max_" + string(z)), usual[z]})
		}
		if len(group.Zones) > 0 {
			p.Groups = append(p.Groups, group)
		}
	}
	return showView.show(s, w, r, p)
}

func (s *Site) saveShow(w http.ResponseWriter, r *http.Request) error {
	f, err := readForm(w, r)
	if err != nil {
		return err
	}
	v, err := s.salon.Show(r.Context(), idOf(r, "id"))
	if err != nil {
		return err
	}
	if v.Rev, err = f.rev(); err == nil {
		err = showOf(f, &v)
	}
	was := v.Targets
	v.Targets = nil
	for _, z := range timeline.Zones() {
		var t timeline.Range
		if err == nil {
			t.MinMM, err = f.lengthKept(r, "min_"+string(z), was[z].MinMM)
		}
		if err == nil {
			t.MaxMM, err = f.lengthKept(r, "max_"+string(z), was[z].MaxMM)
		}
		if t != (timeline.Range{}) {
			if v.Targets == nil {
				v.Targets = map[timeline.Zone]timeline.Range{}
			}
			v.Targets[z] = t
		}
	}
	if err == nil {
		_, err = s.salon.UpdateShow(r.Context(), v)
	}
	if err != nil {
		return f.again(err, func(code int) error { return s.showShow(w, r, code, f) })
	}
	sayNext(w, r, "show.saved", "", "")
	return seeOther(w, r, "/dogs/"+string(v.Dog)+"/plan")
}

func (s *Site) trashShow(w http.ResponseWriter, r *http.Request) error {
	if _, err := readForm(w, r); err != nil {
		return err
	}
	v, err := s.salon.Show(r.Context(), idOf(r, "id"))
	if err != nil {
		return err
	}
	if err := s.salon.TrashShow(r.Context(), v.ID); err != nil {
		return err
	}
	sayNext(w, r, "show.trashed", "show", v.ID)
	return seeOther(w, r, "/dogs/"+string(v.Dog)+"/shows")
}
