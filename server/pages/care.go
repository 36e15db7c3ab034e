package pages

import (
	"net/http"
	"strconv"
	"strings"

	"thatch/server/salon"
	"thatch/timeline"
)

type carePage struct {
	frame
	DogDoc timeline.Dog
	Care   salon.CareLook
	ForVet []timeline.Phrase
	Seen   []timeline.Sign // signs that are not noted yet
	Form   form
}

var careView = declare[carePage]("care")

func (s *Site) care(w http.ResponseWriter, r *http.Request) error {
	return s.showCare(w, r, 0, form{})
}

func (s *Site) showCare(w http.ResponseWriter, r *http.Request, code int, f form) error {
	page, err := s.salon.CarePage(r.Context(), idOf(r, "id"))
	if err != nil {
		return err
	}
	d := page.Dog
	if f.Values == nil { // nothing was typed: what is kept
		f.Values = map[string][]string{"rev": {strconv.Itoa(int(d.Rev))}, "born": {d.Born.String()}}
		if d.WithersMM > 0 && !page.Care.Height {
			f.Set("withers_mm", speakerOf(visitOf(r).settings).Length(d.WithersMM))
		}
	}
	p := carePage{frame: frame{Status: code, Tab: "care", Dog: navOf(d)}, DogDoc: d, Care: page.Care, ForVet: page.ForVet, Form: f}
	noted := map[timeline.Sign]bool{}
	for _, v := range page.Care.Signs {
		noted[v.Sign] = true
	}
	for _, v := range timeline.Signs() {
		if !noted[v] {
			p.Seen = append(p.Seen, v)
		}
	}
	return careView.show(s, w, r, p)
}

// noteCare is one tap: something was done, or is taken back. The page it was tapped on comes again, at the same place.
func (s *Site) noteCare(w http.ResponseWriter, r *http.Request) error {
	f, err := readForm(w, r)
	if err != nil {
		return err
	}
	id := idOf(r, "id")
	what, back := f.Get("done"), false
	if what == "" {
		what, back = f.Get("undo"), true
	}
	if err := s.salon.NoteCare(r.Context(), id, what, back); err != nil {
		return err
	}
	to := f.Get("care_back") // a name of its own: the taps may stand in another form
	if to == "" {
		to = "/dogs/" + string(id) + "/care"
	}
	return seeOther(w, r, to)
}

// saveCareEvery keeps a dog's own intervals.
func (s *Site) saveCareEvery(w http.ResponseWriter, r *http.Request) error {
	f, err := readForm(w, r)
	if err != nil {
		return err
	}
	id := idOf(r, "id")
	every := map[timeline.Care]int{}
	for _, c := range timeline.Cares() {
		name := "every_" + string(c)
		if f.text(name) == "" {
			continue // as usual
		}
		if every[c], err = f.whole(name, 0, 366); err != nil {
			break
		}
	}
	if err == nil {
		err = s.salon.SetCareEvery(r.Context(), id, every)
	}
	if err != nil {
		return f.again(err, func(code int) error { return s.showCare(w, r, code, f) })
	}
	sayNext(w, r, "care.saved", "", "")
	return seeOther(w, r, "/dogs/"+string(id)+"/care")
}

// saveSize keeps the day she was born and her height as it is today.
func (s *Site) saveSize(w http.ResponseWriter, r *http.Request) error {
	f, err := readForm(w, r)
	if err != nil {
		return err
	}
	id := idOf(r, "id")
	var rev timeline.Rev
	var born timeline.Day
	var mm float64
	if rev, err = f.rev(); err == nil {
		born, err = f.day("born")
	}
	if err == nil {
		mm, err = f.length(r, "withers_mm")
	}
	if err == nil {
		_, err = s.salon.SaveSize(r.Context(), id, rev, born, mm)
	}
	if err != nil {
		return f.again(err, func(code int) error { return s.showCare(w, r, code, f) })
	}
	sayNext(w, r, "dog.saved", "", "")
	return seeOther(w, r, "/dogs/"+string(id)+"/care")
}

// tickBag ticks a line of a show's bag, or takes the tick away.
func (s *Site) tickBag(w http.ResponseWriter, r *http.Request) error {
	f, err := readForm(w, r)
	if err != nil {
		return err
	}
	id := idOf(r, "id")
	item, on := f.Get("tick"), true
	if item == "" {
		item, on = f.Get("untick"), false
	}
	if err := s.salon.TickBag(r.Context(), id, timeline.BagItem(item), on); err != nil {
		return err
	}
	return seeOther(w, r, "/shows/"+string(id)+"#bag")
}

type handsPage struct {
	frame
	Hands salon.Hands
	Form  form
}

var handsView = declare[handsPage]("hands")

func (s *Site) hands(w http.ResponseWriter, r *http.Request) error {
	return s.showHands(w, r, 0, form{})
}

func (s *Site) showHands(w http.ResponseWriter, r *http.Request, code int, f form) error {
	h, err := s.salon.HandsOf(r.Context())
	if err != nil {
		return err
	}
	if f.Values == nil && h.LimitMin > 0 {
		f.Values = map[string][]string{"hours": {hoursText(h.LimitMin)}}
	}
	return handsView.show(s, w, r, handsPage{frame: frame{Status: code, Tab: "today"}, Hands: h, Form: f})
}

func (s *Site) saveHands(w http.ResponseWriter, r *http.Request) error {
	f, err := readForm(w, r)
	if err != nil {
		return err
	}
	minutes, err := hoursOf(f.text("hours"))
	if err == nil {
		err = s.salon.SetHandsLimit(r.Context(), minutes)
	}
	if err != nil {
		return f.again(err, func(code int) error { return s.showHands(w, r, code, f) })
	}
	sayNext(w, r, "hands.saved", "", "")
	return seeOther(w, r, "/hands")
}

// hoursOf reads hours ("5", "4.5", "4,5", "4:30") as minutes; empty is no limit.
func hoursOf(text string) (int, error) {
	if text == "" {
		return 0, nil
	}
	wrong := timeline.NewFault(timeline.Invalid, "fault.hands.hours").In("hours")
	if h, m, ok := strings.Cut(text, ":"); ok {
		hours, err := strconv.Atoi(h)
		minutes, err2 := strconv.Atoi(m)
		if err != nil || err2 != nil || hours < 0 || hours > 24 || minutes < 0 || minutes > 59 {
			return 0, wrong
		}
		return 60*hours + minutes, nil
	}
	hours, err := strconv.ParseFloat(strings.Replace(text, ",", ".", 1), 64)
	if err != nil || !(hours >= 0 && hours <= 24) {
		return 0, wrong
	}
	return int(60*hours + 0.5), nil
}

func hoursText(minutes int) string {
	if minutes%60 == 0 {
		return strconv.Itoa(minutes / 60)
	}
	if m := minutes % 60; m < 10 {
		return strconv.Itoa(minutes/60) + ":0" + strconv.Itoa(m)
	}
	return strconv.Itoa(minutes/60) + ":" + strconv.Itoa(minutes%60)
}

// careEvery is a dog's own interval for a field; "" where hers is the usual one.
func careEvery(l salon.CareLine) string {
	if !l.Own {
		return ""
	}
	return strconv.Itoa(l.Every)
}
