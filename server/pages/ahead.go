package pages

import (
	"net/http"
	"net/url"
	"slices"

	"thatch/server/salon"
	"thatch/timeline"
)

// Bounds of what is fetched ahead for one person.
const (
	aheadDogs  = 8   // dogs whose timelines are fetched, those on the table first
	aheadPages = 120 // pages in all
)

type aheadList struct {
	Pages []string `json:"pages"`
}

// ahead names the pages that a phone keeps for when there is no network: today, the sheets of today and tomorrow step by step,
// and the timelines of the dogs that are next.
func (s *Site) ahead(w http.ResponseWriter, r *http.Request) error {
	home, err := s.salon.HomePage(r.Context())
	if err != nil {
		return err
	}
	may := mayChange(r)
	list := []string{"/", "/outbox", "/offline", "/dogs"}
	if may {
		list = append(list, "/heap")
	}
	seen := map[timeline.ID]bool{}
	of := func(c salon.DogCard) string { return "/dogs/" + string(c.Dog.ID) }
	for _, c := range home.OnToday {
		seen[c.Dog.ID] = true
		list = append(list, of(c), of(c)+"/sheet", of(c)+"/plan")
		if may {
			list = append(list, of(c)+"/photos/new", of(c)+"/sessions/new")
		}
		if c.LastSession == home.Today {
			steps, err := s.stepsOf(r, c.Dog.ID, home.Today)
			if err != nil {
				return err
			}
			list = append(list, steps...)
		}
	}
	for _, c := range home.Tomorrow {
		if !seen[c.Dog.ID] {
			seen[c.Dog.ID] = true
			list = append(list, of(c), of(c)+"/sheet?on="+(home.Today+1).String(), of(c)+"/plan")
		}
	}
	for _, c := range home.Dogs {
		if len(seen) >= aheadDogs {
			break
		}
		if !seen[c.Dog.ID] {
			seen[c.Dog.ID] = true
			list = append(list, of(c))
		}
	}
	return sendJSON(w, http.StatusOK, aheadList{list[:min(len(list), aheadPages)]})
}

// stepsOf are the pages of a dog's session of a day: the session, and its sheet step by step.
func (s *Site) stepsOf(r *http.Request, dog timeline.ID, on timeline.Day) ([]string, error) {
	sessions, err := s.salon.Sessions(r.Context(), dog)
	i := slices.IndexFunc(sessions, func(v timeline.Session) bool { return v.On == on })
	if err != nil || i < 0 {
		return nil, err
	}
	page := "/sessions/" + string(sessions[i].ID)
	sheet, err := s.salon.Sheet(r.Context(), sessions[i].ID)
	if err != nil {
		return nil, err
	}
	out := []string{page}
	if len(sheet.Steps) > 0 {
		out = append(out, page+"/work")
	}
	for _, st := range sheet.Steps {
		out = append(out, page+"/work?at="+url.QueryEscape(st.Code))
	}
	return out, nil
}
