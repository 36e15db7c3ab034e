package pages

import (
	"net/http"
	"net/url"
	"slices"
	"strconv"

	"thatch/server/salon"
	"thatch/timeline"
	"thatch/web/words"
)

// workCard is one step of a sheet as one big card: what the partial "workcard" is given.
type workCard struct {
	Sheet   salon.Sheet
	Step    *salon.SheetStep
	Prev    *salon.SheetStep // nil: this is the first
	Coming  *salon.SheetStep // what Next leads to; nil: this is the last
	Done    int              // lines logged
	Of      int              // lines
	Undo    *workUndo        // what was just done; nil: nothing
	Form    form
	Minutes int // on the table so far, by the clock; 0: not known
	Whole   bool
	Choices sessionChoices
}

// workUndo is the step just done and what it was before, as the form of Undo carries it.
type workUndo struct {
	Step string
	Says string
	Was  string // the line before, as the query of a line
	Loft string
}

type workPage struct {
	frame
	Card workCard
}

var workView = declare[workPage]("work")

// work is the sheet one line at a time, for chalky hands: nothing else is on the screen.
func (s *Site) work(w http.ResponseWriter, r *http.Request) error {
	return s.showWork(w, r, 0, form{Values: r.URL.Query()})
}

func (s *Site) showWork(w http.ResponseWriter, r *http.Request, code int, f form) error {
	sheet, err := s.salon.Sheet(r.Context(), idOf(r, "id"))
	if err != nil {
		return err
	}
	if len(sheet.Steps) == 0 {
		if code == 0 {
			return seeOther(w, r, "/sessions/"+string(sheet.Session.ID))
		}
		return s.showSession(w, r, code, f, form{})
	}
	return workView.show(s, w, r, workPage{frame: frame{Status: code}, Card: s.cardOf(r, sheet, f, true)})
}

// cardOf is the card of the step that the query or form names, else of the first that is open.
func (s *Site) cardOf(r *http.Request, sheet salon.Sheet, f form, whole bool) workCard {
	sp := speakerOf(visitOf(r).settings)
	c := workCard{Sheet: sheet, Step: sheet.Step(f.Get("at")), Form: f, Whole: whole, Choices: sessionWords}
	c.Prev = sheet.Before(c.Step.Code)
	if c.Step.Kind != salon.StepEnd {
		c.Coming = sheet.NextOpen(c.Step.Code)
	}
	c.Of = len(sheet.Lines())
	c.Done = c.Of - len(sheet.Waiting())
	if b := sheet.Session.Sheet.Begun; !b.IsZero() {
		c.Minutes = int(s.salon.Now().Sub(b).Minutes())
	}
	if code := f.Get("undo"); code != "" {
		c.Undo = &workUndo{Step: code, Says: stepSays(sp, sheet, code), Was: f.Get("was"), Loft: f.Get("loft")}
		if c.Undo.Says == "" {
			c.Undo = nil
		}
	}
	return c
}

// stepSays is what was done in a step, in words; "" for a step that is not there.
func stepSays(sp words.Speaker, sheet salon.Sheet, code string) string {
	st := sheet.Step(code)
	if st == nil || st.Code != code {
		return ""
	}
	if st.Kind == salon.StepZone {
		if l := st.Line.Logged; l != nil {
			if l.Ripeness == timeline.NotReady {
				return sp.T("sheet.undo.not_ready", "zone", l.Zone)
			}
			return sp.T("sheet.undo.line", "zone", l.Zone, "what", doing(sp, l.Do, l.Share, l.TopLayer))
		}
		return ""
	}
	return sp.T("sheet.step." + string(st.Kind))
}

// doWork is a tap on the card: done, not ready, undo, or all the rest.
func (s *Site) doWork(w http.ResponseWriter, r *http.Request) error {
	f, err := readForm(w, r)
	if err != nil {
		return err
	}
	id := idOf(r, "id")
	to, err := s.tap(r, id, f)
	if err != nil {
		return f.again(err, func(code int) error { return s.showWork(w, r, code, f) })
	}
	return seeOther(w, r, to)
}

// tap does what the form says and returns where to go.
func (s *Site) tap(r *http.Request, id timeline.ID, f form) (string, error) {
	ctx := r.Context()
	rev, err := f.rev()
	if err != nil {
		return "", err
	}
	at := f.Get("at")
	here := "/sessions/" + string(id) + "/work"
	var undo salon.Undo
	switch f.Get("action") {
	case "undo":
		u := salon.Undo{Step: f.Get("step"), Loft: timeline.Loft(f.Get("loft"))}
		if was := f.Get("was"); was != "" {
			q, err := url.ParseQuery(was)
			if err != nil {
				return "", timeline.NewFault(timeline.Invalid, "fault.form").Because(err)
			}
			line, err := lineOf(form{Values: q})
			if err != nil {
				return "", err
			}
			line.Zone = timeline.Zone(q.Get("zones"))
			u.Was = []timeline.ZoneWork{line}
		}
		if _, err := s.salon.SheetUndo(ctx, id, rev, u); err != nil {
			return "", err
		}
		if f.Get("back") == "session" {
			return "/sessions/" + string(id) + "#sheet", nil
		}
		return here + "?at=" + url.QueryEscape(u.Step), nil
	case "rest":
		if _, err := s.salon.SheetRest(ctx, id, rev); err != nil {
			return "", err
		}
		return here + "?at=end", nil
	case "notready":
		zone := f.Get("zone")
		_, undo, err = s.salon.SheetNotReady(ctx, id, rev, timeline.Zone(zone), f.text("remark"))
	default:
		a, wrong := answerOf(f)
		if wrong != nil {
			return "", wrong
		}
		_, undo, err = s.salon.SheetDone(ctx, id, rev, at, a)
	}
	if err != nil {
		return "", err
	}
	sheet, err := s.salon.Sheet(ctx, id)
	if err != nil {
		return "", err
	}
	next := at
	if at == undo.Step { // a zone said not ready at the pinch test stays there: the next zone is pinched
		next = sheet.NextOpen(at).Code
	}
	q := url.Values{"at": {next}, "undo": {undo.Step}}
	if len(undo.Was) > 0 {
		q.Set("was", queryOf(undo.Was[0]).Encode())
	}
	if undo.Loft != "" {
		q.Set("loft", string(undo.Loft))
	}
	if f.Get("back") == "session" {
		return "/sessions/" + string(id) + "#sheet", nil
	}
	return here + "?" + q.Encode(), nil
}

// answerOf reads what was said on the card beside Done.
func answerOf(f form) (salon.SheetAnswer, error) {
	a := salon.SheetAnswer{
		Tool: timeline.Tool(f.Get("tool")), Ripeness: timeline.Ripeness(f.Get("ripeness")), HairCheck: timeline.HairCheck(f.Get("hair_check")),
		Skin: timeline.Skin(f.Get("skin")), Cover: timeline.Cover(f.Get("cover")), NewHair: timeline.NewHair(f.Get("new_hair")), Remark: f.text("remark"), Loft: timeline.Loft(f.Get("loft_now")),
	}
	switch how := f.Get("how"); how {
	case "":
	case "leave", "strip", "tidy", "scissor", "clip":
		a.Do = timeline.Work(how)
	default:
		i := slices.IndexFunc(shareChoices(), func(c shareChoice) bool { return c.Value == how })
		if i < 0 {
			return a, timeline.NewFault(timeline.Invalid, "fault.session.no_share").In("how")
		}
		c := shareChoices()[i]
		a.Do, a.Share, a.Top = timeline.Take, c.Share, c.Top
	}
	return a, nil
}

// finish ends the visit.
func (s *Site) finish(w http.ResponseWriter, r *http.Request) error {
	f, err := readForm(w, r)
	if err != nil {
		return err
	}
	id := idOf(r, "id")
	if f.Values.Get("at") == "" {
		f.Values.Set("at", "end")
	}
	rev, err := f.rev()
	var e salon.Finish
	if err == nil {
		e.Minutes, err = f.whole("minutes", 0, 24*60)
	}
	if err == nil {
		e.Next, err = f.day("next")
	}
	if f.Has("note") {
		note := f.text("note")
		e.Note = &note
	}
	if err == nil {
		_, err = s.salon.AllDone(r.Context(), id, rev, e)
	}
	if err != nil {
		return f.again(err, func(code int) error { return s.showWork(w, r, code, f) })
	}
	sayNext(w, r, "sheet.finished", "", "")
	return seeOther(w, r, "/sessions/"+string(id))
}

// sheetAction is a small change of a sheet that ends on a page; refused, the page of faults tells it.
func (s *Site) sheetAction(act func(r *http.Request, f form, id timeline.ID, rev timeline.Rev) (code, to string, err error)) handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		f, err := readForm(w, r)
		if err != nil {
			return err
		}
		rev, err := f.rev()
		if err != nil {
			return err
		}
		code, to, err := act(r, f, idOf(r, "id"), rev)
		if err != nil {
			return err
		}
		if code != "" {
			sayNext(w, r, code, "", "")
		}
		return seeOther(w, r, to)
	}
}

func (s *Site) reopen(r *http.Request, f form, id timeline.ID, rev timeline.Rev) (string, string, error) {
	_, err := s.salon.ReopenSheet(r.Context(), id, rev)
	return "", "/sessions/" + string(id) + "/work", err
}

func (s *Site) looked(r *http.Request, f form, id timeline.ID, rev timeline.Rev) (string, string, error) {
	_, err := s.salon.TeacherLooked(r.Context(), id, rev)
	return "", "/sessions/" + string(id) + "/work?at=end", err
}

func (s *Site) assist(r *http.Request, f form, id timeline.ID, rev timeline.Rev) (string, string, error) {
	var zones []timeline.Zone
	for _, z := range f.Values["zones"] {
		zones = append(zones, timeline.Zone(z))
	}
	if f.Get("mode") == "on" && len(zones) == 0 {
		return "", "", timeline.NewFault(timeline.Invalid, "fault.session.no_zone").In("zones")
	}
	code := "sheet.assistant"
	if len(zones) == 0 {
		code = "sheet.teacher"
	}
	_, err := s.salon.Assist(r.Context(), id, rev, zones)
	return code, "/sessions/" + string(id), err
}

// shortToday says how much time there is for this visit; 0: as usual.
func (s *Site) shortToday(r *http.Request, f form, id timeline.ID, _ timeline.Rev) (string, string, error) {
	v, err := s.salon.Session(r.Context(), id)
	if err != nil {
		return "", "", err
	}
	dog, err := s.salon.Dog(r.Context(), v.Dog)
	if err != nil {
		return "", "", err
	}
	minutes, err := f.whole("minutes", 0, 24*60)
	if err != nil {
		return "", "", err
	}
	_, err = s.salon.KeepWhatIf(r.Context(), dog.ID, dog.Rev, salon.WhatIf{Kind: "short_today", On: v.On, Minutes: minutes})
	return "sheet.time", "/sessions/" + string(id), err
}

type arrangePage struct {
	frame
	Sheet salon.Sheet
}

var arrangeView = declare[arrangePage]("arrange")

// arrange is the order of the sheet's lines: dragged, or moved by buttons.
func (s *Site) arrange(w http.ResponseWriter, r *http.Request) error {
	sheet, err := s.salon.Sheet(r.Context(), idOf(r, "id"))
	if err != nil {
		return err
	}
	return arrangeView.show(s, w, r, arrangePage{frame: frame{Tab: "log", Dog: navOf(sheet.Dog)}, Sheet: sheet})
}

func (s *Site) order(r *http.Request, f form, id timeline.ID, rev timeline.Rev) (string, string, error) {
	to := "/sessions/" + string(id) + "/arrange"
	if z := timeline.Zone(f.Get("zone")); z != "" {
		by, err := strconv.Atoi(f.Get("by"))
		if err != nil {
			return "", "", timeline.NewFault(timeline.Invalid, "fault.form").Because(err)
		}
		_, err = s.salon.MoveInSheet(r.Context(), id, rev, z, by)
		return "", to + "#line-" + string(z), err
	}
	var zones []timeline.Zone
	for _, z := range f.Values["order"] {
		zones = append(zones, timeline.Zone(z))
	}
	_, err := s.salon.ArrangeSheet(r.Context(), id, rev, zones)
	return "", to, err
}

type sheetPage struct {
	frame
	Sheet salon.Sheet
	Rows  []sheetRow
}

type sheetRow struct {
	salon.SheetStep
	Same bool // for the same reason as the line above: it is not written out again
}

var sheetView = declare[sheetPage]("sheet")

// sheet is the sheet of a day on one page: to read the evening before, and to print.
func (s *Site) sheet(w http.ResponseWriter, r *http.Request) error {
	var on timeline.Day
	if text := r.URL.Query().Get("on"); text != "" {
		var err error
		if on, err = timeline.ParseDay(text); err != nil {
			return timeline.NewFault(timeline.Invalid, "fault.form.day", "text", short(text)).In("on").Because(err)
		}
	}
	sheet, err := s.salon.SheetOn(r.Context(), idOf(r, "id"), on)
	if err != nil {
		return err
	}
	p := sheetPage{frame: frame{Tab: "plan", Dog: navOf(sheet.Dog)}, Sheet: sheet}
	why := ""
	for _, st := range sheet.Steps {
		row := sheetRow{SheetStep: st}
		if st.Line != nil {
			now := st.Line.Plan.Why.String()
			row.Same, why = now == why, now
		} else {
			why = ""
		}
		p.Rows = append(p.Rows, row)
	}
	return sheetView.show(s, w, r, p)
}
