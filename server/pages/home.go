package pages

import (
	"net/http"

	"thatch/server/salon"
)

type homePage struct {
	frame
	salon.Home
}

var homeView = declare[homePage]("home")

func (s *Site) home(w http.ResponseWriter, r *http.Request) error {
	home, err := s.salon.HomePage(r.Context())
	if err != nil {
		return err
	}
	return homeView.show(s, w, r, homePage{frame: frame{Tab: "today"}, Home: home})
}
