package pages

import (
	"net/http"
	"strings"

	"thatch/server/salon"
)

type homePage struct {
	frame
	salon.Home
	Cards []salon.DogCard // a small salon's dogs, with pictures
	Rows  []salon.DogCard // a large one's, those with the nearest shows
	More  bool            // Rows are not all
}

var homeView = declare[homePage]("home")

const (
	homeCards = 12 // so many dogs are shown with pictures
	homeRows  = 30
)

func (s *Site) home(w http.ResponseWriter, r *http.Request) error {
	home, err := s.salon.HomePage(r.Context())
	if err != nil {
		return err
	}
	p := homePage{frame: frame{Tab: "today"}, Home: home, Cards: home.Dogs}
	if n := len(home.Dogs); n > homeCards {
		p.Cards, p.Rows, p.More = nil, home.Dogs[:min(n, homeRows)], n > homeRows
	}
	return homeView.show(s, w, r, p)
}

type dogsPage struct {
	frame
	Find string
	Rows []salon.DogCard
}

var dogsView = declare[dogsPage]("dogs")

// dogs are all dogs, or those in whose name or client's name the text is found.
func (s *Site) dogs(w http.ResponseWriter, r *http.Request) error {
	all, err := s.salon.DogCards(r.Context())
	if err != nil {
		return err
	}
	p := dogsPage{frame: frame{Tab: "today"}, Find: strings.TrimSpace(r.URL.Query().Get("q"))}
	find := strings.ToLower(p.Find)
	for _, c := range all {
		if strings.Contains(strings.ToLower(c.Dog.Name), find) || strings.Contains(strings.ToLower(c.Dog.Client), find) {
			p.Rows = append(p.Rows, c)
		}
	}
	return dogsView.show(s, w, r, p)
}
