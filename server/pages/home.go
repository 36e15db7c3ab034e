package pages

import (
	"fmt"
	"net/http"
	"strings"

	"thatch/server/salon"
	"thatch/timeline"
	"thatch/timeline/plan"
	"thatch/web/words"
)

type homePage struct {
	frame
	salon.Home
	Now    []tableLine // being worked on
	Ahead  []tableLine // on the table today, not begun
	Over   []tableLine // done today
	Morrow []tableLine
	Risky  []salon.ShowAhead // the first ones, those at risk before all others
	MoreS  int               // shows that are not listed
	Due    []salon.CareDog   // the first ones
	MoreD  int
	Waits  []salon.WaitingPhoto // the first ones
	MoreW  int
	Cards  []salon.DogCard // of a small salon's dogs those that are not on the table, with pictures
	Rows   []salon.DogCard // a large one's, those with the nearest shows
	More   bool            // Rows are not all
	Hurry  bool            // a hand's limit is reached or will be
}

// tableLine is a dog on the table as the page says her.
type tableLine struct {
	salon.TableCard
	Needs string // what is pulled: "strip: neck · take: jacket, thigh"
	Also  string // the rest of the work, and what is left alone
	First bool   // her picture is the page's first
}

var homeView = declare[homePage]("home")

// The first page stays short in a large salon.
const (
	homeCards = 12 // so many dogs are shown with pictures
	homeRows  = 30
	homeShows = 6
	homeCare  = 6
	homeWaits = 6

	homePictured = 6 // so many of tomorrow's dogs are shown with pictures
)

func (s *Site) home(w http.ResponseWriter, r *http.Request) error {
	home, err := s.salon.HomePage(r.Context())
	if err != nil {
		return err
	}
	sp := speakerOf(visitOf(r).settings)
	p := homePage{frame: frame{Tab: "today"}, Home: home}
	shown := map[timeline.ID]bool{}
	for _, c := range home.Table {
		shown[c.Dog.ID] = true
		switch l := tableLineOf(sp, c); {
		case c.Done:
			p.Over = append(p.Over, l)
		case c.Begun:
			p.Now = append(p.Now, l)
		default:
			p.Ahead = append(p.Ahead, l)
		}
	}
	for _, c := range home.Next {
		shown[c.Dog.ID] = true
		if len(home.Next) > homePictured {
			c.Picture = ""
		}
		p.Morrow = append(p.Morrow, tableLineOf(sp, c))
	}
	p.firstPicture()
	p.Risky, p.MoreS = first(home.Shows, homeShows)
	p.Due, p.MoreD = first(home.CareDue, homeCare)
	p.Waits, p.MoreW = first(home.Waiting, homeWaits)
	if n := len(home.Dogs); n > homeCards {
		p.Rows, p.More = home.Dogs[:min(n, homeRows)], n > homeRows
	} else {
		for _, c := range home.Dogs {
			if !shown[c.Dog.ID] {
				p.Cards = append(p.Cards, c)
			}
		}
	}
	h := home.Hands
	p.Hurry = h.Say == salon.HandsNear || h.Say == salon.HandsOver || h.SayTomorrow != salon.HandsUnset && h.SayTomorrow != salon.HandsWell
	return homeView.show(s, w, r, p)
}

// firstPicture is fetched at once; the others wait until they are scrolled to.
func (p *homePage) firstPicture() {
	for _, lines := range [][]tableLine{p.Now, p.Ahead, p.Morrow, p.Over} {
		for i := range lines {
			if lines[i].Picture != "" {
				lines[i].First = true
				return
			}
		}
	}
}

func first[T any](all []T, n int) (some []T, more int) {
	if len(all) <= n {
		return all, 0
	}
	return all[:n], len(all) - n
}

func tableLineOf(sp words.Speaker, c salon.TableCard) tableLine {
	return tableLine{TableCard: c, Needs: doings(sp, c.Lines, needsNames, pulling...), Also: doings(sp, append(c.Lines[:len(c.Lines):len(c.Lines)], c.Left...), alsoNames, besides...)}
}

// So many names of one kind of work are told before the rest is counted.
const (
	needsNames = 4
	alsoNames  = 2
)

var (
	pulling = []timeline.Work{timeline.Strip, timeline.Take}
	besides = []timeline.Work{timeline.Card, timeline.Tidy, timeline.Scissor, timeline.Clip, timeline.Leave}
)

// doings says kinds of work in one line, whole groups of zones by their name.
func doings(sp words.Speaker, lines []plan.Line, names int, kinds ...timeline.Work) string {
	var out []string
	for _, do := range kinds {
		if zones := zonesWith(lines, do); len(zones) > 0 {
			out = append(out, sp.T("dog.does", "does", do, "zones", zoneNames(sp, zones, names)))
		}
	}
	return strings.Join(out, " · ")
}

func zonesWith(lines []plan.Line, do timeline.Work) map[timeline.Zone]bool {
	out := map[timeline.Zone]bool{}
	for _, l := range lines {
		if l.Do == do {
			out[l.Zone] = true
		}
	}
	return out
}

// zoneNames are zones in anatomical order, a whole group by its name, at most so many names.
func zoneNames(sp words.Speaker, zones map[timeline.Zone]bool, most int) string {
	var names []string
	for _, g := range timeline.Groups() {
		var in []string
		for _, z := range g.Zones() {
			if zones[z] {
				in = append(in, word(sp, z))
			}
		}
		if len(in) == len(g.Zones()) {
			in = []string{word(sp, g)}
		}
		names = append(names, in...)
	}
	if n := len(names) - most; n > 1 { // one more name is as short as its number
		names = append(names[:most:most], fmt.Sprintf("+%d", n))
	}
	return strings.Join(names, ", ")
}

type dogsPage struct {
	frame
	Find string
	Due  bool // only those with care that falls due
	Rows []salon.DogCard
}

var dogsView = declare[dogsPage]("dogs")

// dogs are all dogs, or those in whose name or client's name the text is found, or those with care that falls due.
func (s *Site) dogs(w http.ResponseWriter, r *http.Request) error {
	q := r.URL.Query()
	p := dogsPage{frame: frame{Tab: "today"}, Find: strings.TrimSpace(q.Get("q")), Due: q.Get("care") == "due"}
	all, err := s.salon.DogCards(r.Context())
	if err != nil {
		return err
	}
	due := map[timeline.ID]bool{}
	if p.Due {
		if due, err = s.salon.CareIsDue(r.Context()); err != nil {
			return err
		}
	}
	find := strings.ToLower(p.Find)
	for _, c := range all {
		if p.Due && !due[c.Dog.ID] {
			continue
		}
		if strings.Contains(strings.ToLower(c.Dog.Name), find) || strings.Contains(strings.ToLower(c.Dog.Client), find) {
			p.Rows = append(p.Rows, c)
		}
	}
	return dogsView.show(s, w, r, p)
}
