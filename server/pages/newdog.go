package pages

import (
	"net/http"
	"strings"

	"thatch/server/salon"
	"thatch/timeline"
)

type newDogPage struct {
	frame
	Form       form
	Today      timeline.Day
	Undercoats []timeline.Undercoat
	Textures   []timeline.Texture
	Kinds      []kindLine
}

var newDogView = declare[newDogPage]("newdog")

func (s *Site) newDog(w http.ResponseWriter, r *http.Request) error {
	return s.showNewDog(w, r, 0, form{})
}

func (s *Site) showNewDog(w http.ResponseWriter, r *http.Request, code int, f form) error {
	today, err := s.salon.Today(r.Context())
	if err != nil {
		return err
	}
	kinds, err := s.kindChoices(r, "")
	if err != nil {
		return err
	}
	return newDogView.show(s, w, r, newDogPage{
		frame: frame{Status: code, Tab: "new"}, Form: f, Today: today,
		Undercoats: timeline.Undercoats(), Textures: timeline.Textures(), Kinds: kinds,
	})
}

func (s *Site) createDog(w http.ResponseWriter, r *http.Request) error {
	f, err := readForm(w, r)
	if err != nil {
		return err
	}
	n, err := newDogOf(r, f)
	var dog timeline.Dog
	if err == nil {
		dog, err = s.salon.CreateDog(r.Context(), n)
	}
	if err != nil {
		return f.again(err, func(code int) error { return s.showNewDog(w, r, code, f) })
	}
	sayNext(w, r, "dog.added", "", "")
	return seeOther(w, r, "/dogs/"+string(dog.ID))
}

// newDogOf turns the form into what starts a dog; a fault names the field of the form.
func newDogOf(r *http.Request, f form) (n salon.NewDog, err error) {
	n = salon.NewDog{Name: f.text("name"), Client: f.text("client"), Texture: timeline.Texture(f.Get("texture")), Profile: f.Get("profile"), History: historyOf(f), ShareOK: f.Get("share_ok") != ""}
	n.Answers.Undercoat = timeline.Undercoat(f.Get("undercoat"))
	n.Answers.Rolled = f.Get("rolled") == "yes"
	if f.Get("worked") != "unknown" {
		if n.Answers.LastWorked, err = f.day("last_worked"); err != nil {
			return n, err
		}
	}
	if n.Answers.On, err = f.day("answered"); err != nil {
		return n, err
	}
	if n.Answers.LongestWithersMM, err = f.length(r, "longest_withers_mm"); err != nil {
		return n, err
	}
	if n.WithersMM, err = f.length(r, "withers_mm"); err != nil {
		return n, err
	}
	if n.Born, err = f.day("born"); err != nil {
		return n, err
	}
	if n.Next, err = f.day("next"); err != nil {
		return n, err
	}
	if n.EveryDays, err = f.whole("every_days", 1, 365); err != nil {
		return n, err
	}
	n.Minutes, err = f.whole("minutes", 1, 600)
	return n, err
}

// historyOf is what the owner says of the coat.
func historyOf(f form) timeline.History {
	return timeline.History{EverClipped: f.Get("ever_clipped") != "", Neutered: f.Get("neutered") != "", CoatChange: f.Get("coat_change") != ""}
}

// fieldOf is the field of a form that a fault of the salon means: "answers.last_worked" is the form's "last_worked".
func fieldOf(field string) string {
	if i := strings.LastIndexByte(field, '.'); i >= 0 {
		return field[i+1:]
	}
	return field
}
