package pages

import (
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"thatch/server/salon"
	"thatch/timeline"
	"thatch/web/words"
)

// workCard is one step of a sheet as one big card: what the partial "workcard" is given.
type workCard struct {
	Sheet    salon.Sheet
	Step     *salon.SheetStep
	Prev     *salon.SheetStep // nil: this is the first
	Coming   *salon.SheetStep // what Next leads to; nil: this is the last
	Ahead    *workCard        // of Coming, so that the next card is there before the answer is; nil: not in the whole-screen view
	Done     int              // lines logged
	Of       int              // lines
	Group    int              // lines of the step's group that are open
	Undo     string           // what was done last, if it can be undone
	Form     form
	Conflict *conflict
	Saw      string
	Minutes  int // on the table so far, by the clock; 0: not known
	Whole    bool
	Photos   []timeline.Photo // of this session, the newest few
	Worked   []timeline.Zone  // of the step's group, at the end of all: where skin can be said to be sore
	Pulled   []timeline.Zone  // those of them whose hair was pulled
	Choices  sessionChoices
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
	card, err := s.cardOf(r, sheet, f, true)
	if err != nil {
		return err
	}
	return workView.show(s, w, r, workPage{frame: frame{Status: code}, Card: card})
}

// cardPhotos are so many of the newest photos on a card: that they have arrived is what one wants to see.
const cardPhotos = 4

// cardOf is the card of the step that the query or form names, else of the first that is open.
func (s *Site) cardOf(r *http.Request, sheet salon.Sheet, f form, whole bool) (workCard, error) {
	sp := speakerOf(visitOf(r).settings)
	v := *sheet.Session
	c := workCard{Sheet: sheet, Step: sheet.Step(f.Get("at")), Form: f, Whole: whole, Choices: sessionWords, Conflict: conflictOf(sp, r, f, v)}
	c.Prev = sheet.Before(c.Step.Code)
	if c.Step.Kind != salon.StepEnd {
		c.Coming = sheet.NextOpen(c.Step.Code)
	}
	waiting := sheet.Waiting()
	c.Of = len(sheet.Lines())
	c.Done = c.Of - len(waiting)
	for _, l := range waiting {
		if c.Step.Kind == salon.StepZone && l.Zone.Group() == c.Step.Group {
			c.Group++
		}
	}
	if b := v.Sheet.Begun; !b.IsZero() {
		c.Minutes = int(s.salon.Now().Sub(b).Minutes())
	}
	c.Saw, c.Undo = sawOf(v, c.Step.Code), undoSays(sp, sheet)
	photos, err := s.salon.SessionPhotos(r.Context(), v.ID)
	if err != nil {
		return c, err
	}
	c.Photos = photos[max(0, len(photos)-cardPhotos):]
	c.Worked, c.Pulled = workedOf(c.Step, v.Work)
	if whole && c.Coming != nil {
		ahead := c
		ahead.Form, ahead.Conflict, ahead.Undo, ahead.Ahead = form{Values: url.Values{"at": {c.Coming.Code}}}, nil, "", nil
		ahead.Step, ahead.Prev, ahead.Group, ahead.Coming = c.Coming, c.Step, 0, nil
		if ahead.Step.Kind != salon.StepEnd {
			ahead.Coming = sheet.NextOpen(ahead.Step.Code)
		}
		ahead.Saw = sawOf(v, ahead.Step.Code)
		work := v.Work
		if l := c.Step.Line; l != nil && l.Logged == nil { // shown when this line is done
			work = append(slices.Clone(work), timeline.ZoneWork{Zone: l.Zone, Do: l.Plan.Do})
		}
		ahead.Worked, ahead.Pulled = workedOf(ahead.Step, work)
		c.Ahead = &ahead
	}
	return c, nil
}

// workedOf are the zones of a step's group, or at the end of all, that were worked, and those that were pulled.
func workedOf(st *salon.SheetStep, work []timeline.ZoneWork) (worked, pulled []timeline.Zone) {
	for _, z := range timeline.Zones() {
		for _, w := range work {
			if w.Zone != z || w.Do == timeline.Leave || st.Kind != salon.StepEnd && z.Group() != st.Group {
				continue
			}
			worked = append(worked, z)
			if salon.Pulled(w) {
				pulled = append(pulled, z)
			}
		}
	}
	return worked, pulled
}

// undoSays is the last change of a session in words, where there is one to undo.
func undoSays(sp words.Speaker, sheet salon.Sheet) string {
	v := sheet.Session
	b := v.Before
	if b == nil || b.Rev != v.Rev {
		return ""
	}
	if z := timeline.Zone(b.Step); z.Known() {
		i := slices.IndexFunc(v.Work, func(l timeline.ZoneWork) bool { return l.Zone == z })
		switch {
		case i < 0:
			return sp.T("sheet.undo.out", "zone", z)
		case v.Work[i].Ripeness == timeline.NotReady:
			return sp.T("sheet.undo.not_ready", "zone", z)
		}
		l := v.Work[i]
		return sp.T("sheet.undo.line", "zone", z, "what", doing(sp, l.Do, l.Share, l.TopLayer))
	}
	if g, ok := strings.CutPrefix(b.Step, salon.StepGroup); ok {
		return sp.T("sheet.undo.group", "group", sp.T("group."+g), "n", b.Count)
	}
	switch b.Step {
	case salon.StepRest:
		return sp.T("sheet.undo.rest", "n", b.Count)
	case salon.StepRepeat:
		return sp.T("sheet.undo.repeat", "n", b.Count)
	case salon.StepBreak:
		return sp.T("sheet.undo.break", "n", b.Count)
	case salon.StepNote:
		return sp.T("sheet.undo.note")
	case salon.StepLog:
		return sp.T("sheet.undo.log")
	case salon.StepFacts:
		return sp.T("sheet.undo.facts")
	case salon.StepEnded:
		return sp.T("sheet.undo.ended")
	case salon.StepOff:
		return sp.T("sheet.undo.off")
	case salon.StepOrder:
		return sp.T("sheet.undo.order")
	}
	if st := sheet.Step(b.Step); st != nil && st.Code == b.Step {
		if st.Kind == salon.StepCare { // what was done there has taps of its own
			return sp.T("sheet.undo.care")
		}
		return sp.T("sheet.step." + string(st.Kind))
	}
	return ""
}

// doWork is a tap on the card: done, not ready, undo, a group or all the rest, a break, a note.
func (s *Site) doWork(w http.ResponseWriter, r *http.Request) error {
	f, err := readForm(w, r)
	if err != nil {
		return err
	}
	id := idOf(r, "id")
	var to string
	err = s.unmoved(r, id, f, func(f form) (err error) {
		to, err = s.tap(r, id, f)
		return err
	})
	if err != nil {
		return f.again(err, func(code int) error { return s.showWork(w, r, code, f) })
	}
	return seeOther(w, r, to)
}

// tap does what the form says and returns where to go.
func (s *Site) tap(r *http.Request, id timeline.ID, f form) (string, error) {
	ctx := r.Context()
	at := f.Get("at")
	here := "/sessions/" + string(id) + "/work"
	on := func(code string) string { return here + "?at=" + url.QueryEscape(code) }
	if f.Get("back") == "session" {
		here = "/sessions/" + string(id) + "#sheet"
		on = func(string) string { return here }
	}
	switch f.Get("action") { // in nobody's way, whatever was written meanwhile
	case "note":
		_, err := s.salon.AddNote(ctx, id, f.Get("add"))
		return on(at), err
	case "break":
		_, err := s.salon.BreakTaken(ctx, id)
		return on(at), err
	}
	rev, err := f.rev()
	if err != nil {
		return "", err
	}
	var undo salon.Undo
	switch f.Get("action") {
	case "undo":
		if f.Get("step") == "" {
			_, was, err := s.salon.UndoLast(ctx, id, rev)
			return on(was.Step), err
		}
		_, err := s.salon.SheetUndo(ctx, id, rev, salon.Undo{Step: f.Get("step"), Loft: timeline.Loft(f.Get("loft"))})
		return on(f.Get("step")), err
	case "rest":
		_, err := s.salon.SheetRest(ctx, id, rev)
		return on("end"), err
	case "group":
		g := timeline.Group(f.Get("group"))
		if _, err := s.salon.SheetGroup(ctx, id, rev, g); err != nil {
			return "", err
		}
		return on("look-" + string(g)), nil
	case "notready":
		_, undo, err = s.salon.SheetNotReady(ctx, id, rev, timeline.Zone(f.Get("zone")), f.text("remark"))
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
	if at != undo.Step { // a zone said not ready at the pinch test stays there: the next zone is pinched
		return on(at), nil
	}
	sheet, err := s.salon.Sheet(ctx, id)
	if err != nil {
		return "", err
	}
	return on(sheet.NextOpen(at).Code), nil
}

// answerOf reads what was said on the card beside Done.
func answerOf(f form) (salon.SheetAnswer, error) {
	a := salon.SheetAnswer{
		Tool: timeline.Tool(f.Get("tool")), Ripeness: timeline.Ripeness(f.Get("ripeness")), HairCheck: timeline.HairCheck(f.Get("hair_check")),
		Skin: timeline.Skin(f.Get("skin")), Cover: timeline.Cover(f.Get("cover")), NewHair: timeline.NewHair(f.Get("new_hair")), Remark: f.text("remark"), Loft: timeline.Loft(f.Get("loft_now")),
		HairAt: zonesIn(f, "hair_at"), SkinAt: zonesIn(f, "skin_at"),
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

func zonesIn(f form, name string) []timeline.Zone {
	var out []timeline.Zone
	for _, z := range f.Values[name] {
		out = append(out, timeline.Zone(z))
	}
	return out
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
	err = s.unmoved(r, id, f, func(f form) error {
		rev, err := f.rev()
		if err != nil {
			return err
		}
		e := salon.Finish{
			Add: f.Get("add"), Loft: timeline.Loft(f.Get("loft_now")), Tolerance: timeline.Tolerance(f.Get("tolerance")),
			Found: salon.Finding{
				HairCheck: timeline.HairCheck(f.Get("hair_check")), HairAt: zonesIn(f, "hair_at"), Skin: timeline.Skin(f.Get("skin")), SkinAt: zonesIn(f, "skin_at"), Cover: timeline.Cover(f.Get("cover")),
			},
		}
		if e.Minutes, err = f.whole("minutes", 0, 24*60); err != nil {
			return err
		}
		if e.Next, err = f.day("next"); err != nil {
			return err
		}
		if f.Has("breaks") {
			n, err := f.whole("breaks", 0, 99)
			if err != nil {
				return err
			}
			e.Breaks = &n
		}
		if f.Has("note") {
			note := f.text("note")
			e.Note = &note
		}
		_, err = s.salon.AllDone(r.Context(), id, rev, e)
		return err
	})
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
