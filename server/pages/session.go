package pages

import (
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"thatch/server/salon"
	"thatch/timeline"
)

type sessionPage struct {
	frame
	salon.SessionPage
	Dog     timeline.Dog // SessionPage's, not frame's
	Picker  dogDrawing
	Form    form        // the line about to be logged
	Facts   form        // minutes, undercoat, note, next day
	Tap     form        // any other: not today, as last time, undo
	Work    salon.Sheet // in working order, an assistant's own zones only
	Card    *workCard   // the step to do now; nil: no sheet, or all done
	Carded  *salon.SheetStep
	ByHand  bool // the form for logging by hand is open
	OnTable bool // she is on the table: the card is what counts, all else is folded
	Repeat  *salon.Repeat
	MayOff  bool   // nothing was worked: she may be sent home
	Undo    string // the last change in words, where it can be undone
	Clash   *conflict
	Done    []groupLines
	Tiles   sessionTiles
	Stop    []timeline.Zone // zones whose skin or hair says stop
	Choices sessionChoices
}

type groupLines struct {
	Group timeline.Group
	Lines []timeline.ZoneWork
}

type sessionChoices struct {
	Works      []timeline.Work
	Shares     []shareChoice
	Tools      []timeline.Tool
	Ripeness   []timeline.Ripeness
	HairChecks []timeline.HairCheck
	Skins      []timeline.Skin
	Covers     []timeline.Cover
	NewHairs   []timeline.NewHair
	Lofts      []timeline.Loft
	Tolerances []timeline.Tolerance
	NotTodays  []timeline.NotToday
}

var sessionView = declare[sessionPage]("session")

var sessionWords = sessionChoices{
	Works: timeline.Works(), Shares: shareChoices(), Tools: timeline.Tools(), Ripeness: timeline.Ripenesses(),
	HairChecks: timeline.HairChecks(), Skins: timeline.Skins(), Covers: timeline.Covers(), NewHairs: timeline.NewHairs(), Lofts: timeline.Lofts(),
	Tolerances: timeline.Tolerances(), NotTodays: timeline.NotTodays(),
}

// session shows one visit. A line that was just taken out comes back in the query, so that the form can put it in again.
func (s *Site) session(w http.ResponseWriter, r *http.Request) error {
	f := form{Values: r.URL.Query()}
	return s.showSession(w, r, 0, f, form{})
}

func (s *Site) showSession(w http.ResponseWriter, r *http.Request, code int, line, facts form) error {
	page, err := s.salon.SessionPage(r.Context(), idOf(r, "id"))
	if err != nil {
		return err
	}
	sp := speakerOf(visitOf(r).settings)
	p := sessionPage{
		frame: frame{Status: code, Tab: "log", Dog: navOf(page.Dog)}, SessionPage: page, Dog: page.Dog, Form: line, Facts: facts, Choices: sessionWords,
		Picker: dogDrawing{Prefix: "log", Target: "zone-", Title: sp.T("session.picker"), Says: sp.T("session.picker.hint"), Marks: map[timeline.Zone]zoneMark{}},
	}
	for _, z := range page.Zones {
		switch {
		case z.Line != nil:
			p.Picker.Marks[z.Zone] = zoneMark{Class: "z-worked", Sign: "done", Says: doing(sp, z.Line.Do, z.Line.Share, z.Line.TopLayer)}
		case z.Sensitive || z.Hurt != nil:
			p.Picker.Marks[z.Zone] = zoneMark{Class: "z-warn", Says: sp.T("session.sensitive")}
		}
	}
	if p.Work, err = s.salon.Sheet(r.Context(), page.Session.ID); err != nil {
		return err
	}
	for i := range p.Work.Steps {
		if st := &p.Work.Steps[i]; st.Kind == salon.StepCard {
			p.Carded = st
		}
	}
	if len(p.Work.Steps) > 0 && page.Session.Sheet.Done.IsZero() {
		card, err := s.cardOf(r, p.Work, form{}, false)
		if err != nil {
			return err
		}
		p.Card, p.OnTable = &card, true
	}
	if page.Session.NotToday == "" {
		if p.Repeat, err = s.salon.Repeat(r.Context(), page.Session.ID); err != nil {
			return err
		}
		worked := len(p.Work.Lines()) > 0 && len(p.Work.Waiting()) == 0
		if p.Repeat != nil && (worked || len(p.Repeat.Zones()) == 0) {
			p.Repeat = nil
		}
		p.MayOff = !slices.ContainsFunc(page.Session.Work, func(l timeline.ZoneWork) bool { return l.Do != timeline.Leave })
	}
	p.Tiles = tilesOf(r, page.Session.ID, page.Photos)
	p.Undo = undoSays(sp, p.Work)
	if !strings.HasSuffix(r.URL.Path, "/facts") {
		p.Tap, p.Facts = p.Facts, form{}
	}
	for _, f := range []*form{&p.Form, &p.Facts, &p.Tap} {
		if c := conflictOf(sp, r, *f, page.Session); c != nil {
			p.Clash, f.Fault = c, nil // said above; what was typed stays
		}
	}
	p.ByHand = len(p.Work.Steps) == 0 && page.Session.NotToday == "" || line.Fault != nil || line.Get("do") != ""
	for _, g := range timeline.Groups() {
		var lines []timeline.ZoneWork
		for _, l := range page.Session.Work {
			if l.Zone.Group() == g {
				lines = append(lines, l)
			}
			if l.Zone.Group() == g && stops(l) {
				p.Stop = append(p.Stop, l.Zone)
			}
		}
		if len(lines) > 0 {
			p.Done = append(p.Done, groupLines{g, lines})
		}
	}
	return sessionView.show(s, w, r, p)
}

// stops reports whether the line tells of skin or hair at which a zone is left alone.
func stops(l timeline.ZoneWork) bool {
	return l.Skin == timeline.SkinRaised || l.Skin == timeline.SkinBroken || l.HairCheck == timeline.HairSticky
}

// changeLog reads the form, changes the log and saves it whole; refused, the page comes again with the input kept.
func (s *Site) changeLog(w http.ResponseWriter, r *http.Request, change func(f form, v timeline.Session, e *salon.SessionEdit) (back string, err error)) error {
	f, err := readForm(w, r)
	if err != nil {
		return err
	}
	v, err := s.salon.Session(r.Context(), idOf(r, "id"))
	if err != nil {
		return err
	}
	e := salon.SessionEdit{ID: v.ID, Minutes: v.Minutes, Loft: v.Loft, Note: v.Note, Work: slices.Clone(v.Work)}
	back := ""
	if e.Rev, err = f.rev(); err == nil {
		if back, err = change(f, v, &e); err == nil {
			_, err = s.salon.SaveSession(r.Context(), e)
		}
	}
	if err != nil {
		return f.again(err, func(code int) error {
			if strings.HasSuffix(r.URL.Path, "/facts") { // the form of the visit, not that of a line
				return s.showSession(w, r, code, form{}, f)
			}
			return s.showSession(w, r, code, f, form{})
		})
	}
	sayNext(w, r, "session.saved", "", "")
	return seeOther(w, r, "/sessions/"+string(v.ID)+back)
}

// logWork puts one line for every chosen zone into the log, in place of what was there for these zones.
func (s *Site) logWork(w http.ResponseWriter, r *http.Request) error {
	return s.changeLog(w, r, func(f form, v timeline.Session, e *salon.SessionEdit) (string, error) {
		line, err := lineOf(f)
		if err != nil {
			return "", err
		}
		zones := f.Values["zones"]
		if len(zones) == 0 {
			return "", timeline.NewFault(timeline.Invalid, "fault.session.no_zone").In("zones")
		}
		for _, z := range zones {
			line.Zone = timeline.Zone(z)
			e.Work = withLine(e.Work, line)
		}
		return "#done", nil
	})
}

// logPlanned logs a line of the sheet, or all that are not logged yet, as planned.
func (s *Site) logPlanned(w http.ResponseWriter, r *http.Request) error {
	f, err := readForm(w, r)
	if err != nil {
		return err
	}
	id := idOf(r, "id")
	rev, err := f.rev()
	if err == nil {
		if zone := f.Get("zone"); zone != "" {
			_, _, err = s.salon.SheetDone(r.Context(), id, rev, zone, salon.SheetAnswer{})
		} else {
			_, err = s.salon.SheetRest(r.Context(), id, rev)
		}
	}
	if err != nil {
		return f.again(err, func(code int) error { return s.showSession(w, r, code, f, form{}) })
	}
	sayNext(w, r, "session.saved", "", "")
	return seeOther(w, r, "/sessions/"+string(id)+"#sheet")
}

// unlog takes a zone's line out; the form holds it, so that one tap puts it back.
func (s *Site) unlog(w http.ResponseWriter, r *http.Request) error {
	return s.changeLog(w, r, func(f form, v timeline.Session, e *salon.SessionEdit) (string, error) {
		zone := timeline.Zone(f.Get("zone"))
		i := slices.IndexFunc(e.Work, func(x timeline.ZoneWork) bool { return x.Zone == zone })
		if i < 0 {
			return "", nil
		}
		was := e.Work[i]
		e.Work = slices.Delete(e.Work, i, i+1)
		return "?" + queryOf(was).Encode() + "#log", nil
	})
}

func (s *Site) sessionFacts(w http.ResponseWriter, r *http.Request) error {
	return s.changeLog(w, r, func(f form, v timeline.Session, e *salon.SessionEdit) (string, error) {
		var err error
		if e.Minutes, err = f.whole("minutes", 0, 24*60); err != nil {
			return "", err
		}
		if e.Next, err = f.day("next"); err != nil {
			return "", err
		}
		e.Step, e.Loft = salon.StepFacts, timeline.Loft(f.Get("loft"))
		if f.Has("tolerance") {
			t := timeline.Tolerance(f.Get("tolerance"))
			e.Tolerance = &t
		}
		if f.Has("breaks") {
			n, err := f.whole("breaks", 0, 99)
			if err != nil {
				return "", err
			}
			e.Breaks = &n
		}
		if f.Has("note") {
			e.Note = f.text("note")
			if f.Has("note_was") {
				e.Note = mergedNote(v.Note, f.text("note_was"), f.text("note"))
			}
		}
		e.Note = strings.TrimSpace(e.Note + "\n" + f.text("add"))
		return "", nil
	})
}

func withLine(work []timeline.ZoneWork, line timeline.ZoneWork) []timeline.ZoneWork {
	i := slices.IndexFunc(work, func(x timeline.ZoneWork) bool { return x.Zone == line.Zone })
	if i < 0 {
		return append(work, line)
	}
	work[i] = line
	return work
}

func lineOf(f form) (timeline.ZoneWork, error) {
	line := timeline.ZoneWork{
		Do: timeline.Work(f.Get("do")), Tool: timeline.Tool(f.Get("tool")), Ripeness: timeline.Ripeness(f.Get("ripeness")),
		HairCheck: timeline.HairCheck(f.Get("hair_check")), Skin: timeline.Skin(f.Get("skin")), Cover: timeline.Cover(f.Get("cover")), NewHair: timeline.NewHair(f.Get("new_hair")), Remark: f.text("remark"),
	}
	if line.Do == "" {
		return line, timeline.NewFault(timeline.Invalid, "fault.session.no_work").In("do")
	}
	if line.Do != timeline.Take {
		return line, nil
	}
	for _, c := range shareChoices() {
		if c.Value == f.Get("share") {
			line.Share, line.TopLayer = c.Share, c.Top
			return line, nil
		}
	}
	// A share without a word of its own comes back as it was logged.
	share, err := strconv.ParseFloat(f.Get("share"), 64)
	if err != nil {
		return line, timeline.NewFault(timeline.Invalid, "fault.session.no_share").In("share")
	}
	line.Share = share
	return line, nil
}

// queryOf is the inverse of lineOf.
func queryOf(l timeline.ZoneWork) url.Values {
	q := url.Values{"zones": {string(l.Zone)}, "do": {string(l.Do)}}
	set := func(name, v string) {
		if v != "" {
			q.Set(name, v)
		}
	}
	if l.Do == timeline.Take {
		q.Set("share", strconv.FormatFloat(l.Share, 'f', -1, 64))
		for _, c := range shareChoices() {
			if l.TopLayer && c.Top || !l.TopLayer && !c.Top && l.Share == c.Share {
				q.Set("share", c.Value)
			}
		}
	}
	set("tool", string(l.Tool))
	set("ripeness", string(l.Ripeness))
	set("hair_check", string(l.HairCheck))
	set("skin", string(l.Skin))
	set("cover", string(l.Cover))
	set("new_hair", string(l.NewHair))
	set("remark", l.Remark)
	return q
}
