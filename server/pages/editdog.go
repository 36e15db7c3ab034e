package pages

import (
	"net/http"
	"slices"

	"thatch/timeline"
)

type editDogPage struct {
	frame
	DogDoc     timeline.Dog
	Form       form
	Picker     dogDrawing
	Undercoats []timeline.Undercoat
	Textures   []timeline.Texture
	Kinds      []kindLine
}

var editDogView = declare[editDogPage]("editdog")

func (s *Site) editDog(w http.ResponseWriter, r *http.Request) error {
	dog, err := s.salon.Dog(r.Context(), idOf(r, "id"))
	if err != nil {
		return err
	}
	sp := speakerOf(visitOf(r).settings)
	f := form{Values: map[string][]string{
		"rev": {asText(int(dog.Rev))}, "name": {dog.Name}, "client": {dog.Client}, "texture": {string(dog.Texture)}, "undercoat": {string(dog.Answers.Undercoat)},
		"last_worked": {dog.Answers.LastWorked.String()}, "answered": {dog.Answers.On.String()}, "notes": {dog.Notes}, "profile": {dog.Profile},
	}}
	setHistory(f, dog.History)
	if dog.Answers.Rolled {
		f.Set("rolled", "yes")
	}
	if dog.WithersMM > 0 {
		f.Set("withers_mm", sp.Length(dog.WithersMM))
	}
	if dog.Answers.LongestWithersMM > 0 {
		f.Set("longest_withers_mm", sp.Length(dog.Answers.LongestWithersMM))
	}
	for _, z := range dog.Sensitive {
		f.Add("sensitive", string(z))
	}
	return s.showEditDog(w, r, 0, f)
}

func (s *Site) showEditDog(w http.ResponseWriter, r *http.Request, code int, f form) error {
	dog, err := s.salon.Dog(r.Context(), idOf(r, "id"))
	if err != nil {
		return err
	}
	kinds, err := s.kindChoices(r, dog.Profile)
	if err != nil {
		return err
	}
	sp := speakerOf(visitOf(r).settings)
	return editDogView.show(s, w, r, editDogPage{
		frame: frame{Status: code, Tab: "edit", Dog: navOf(dog)}, DogDoc: dog, Form: f, Undercoats: timeline.Undercoats(), Textures: timeline.Textures(), Kinds: kinds,
		Picker: dogDrawing{Prefix: "sens", Target: "zone-", Title: sp.T("editdog.sensitive"), Says: sp.T("session.picker.hint")},
	})
}

func (s *Site) saveDog(w http.ResponseWriter, r *http.Request) error {
	f, err := readForm(w, r)
	if err != nil {
		return err
	}
	dog, err := s.salon.Dog(r.Context(), idOf(r, "id"))
	if err != nil {
		return err
	}
	if err = editOf(r, f, &dog); err == nil {
		_, err = s.salon.UpdateDog(r.Context(), dog)
	}
	if err != nil {
		return f.again(err, func(code int) error { return s.showEditDog(w, r, code, f) })
	}
	sayNext(w, r, "dog.saved", "", "")
	return seeOther(w, r, "/dogs/"+string(dog.ID))
}

func editOf(r *http.Request, f form, dog *timeline.Dog) (err error) {
	if dog.Rev, err = f.rev(); err != nil {
		return err
	}
	dog.Name, dog.Client, dog.Notes = f.text("name"), f.text("client"), f.text("notes")
	dog.Texture, dog.Answers.Undercoat = timeline.Texture(f.Get("texture")), timeline.Undercoat(f.Get("undercoat"))
	dog.Answers.Rolled = f.Get("rolled") == "yes"
	dog.History = historyOf(f)
	if f.Get("profile") != "" {
		dog.Profile = f.Get("profile")
	}
	if dog.Answers.LastWorked, err = f.day("last_worked"); err != nil {
		return err
	}
	if on, err := f.day("answered"); err != nil {
		return err
	} else if !on.IsZero() {
		dog.Answers.On = on
	}
	if dog.Answers.LongestWithersMM, err = f.lengthKept(r, "longest_withers_mm", dog.Answers.LongestWithersMM); err != nil {
		return err
	}
	if dog.WithersMM, err = f.lengthKept(r, "withers_mm", dog.WithersMM); err != nil {
		return err
	}
	dog.Sensitive = nil
	for _, z := range timeline.Zones() {
		if slices.Contains(f.Values["sensitive"], string(z)) {
			dog.Sensitive = append(dog.Sensitive, z)
		}
	}
	return nil
}

func (s *Site) trashDog(w http.ResponseWriter, r *http.Request) error {
	if _, err := readForm(w, r); err != nil {
		return err
	}
	id := idOf(r, "id")
	if err := s.salon.TrashDog(r.Context(), id); err != nil {
		return err
	}
	sayNext(w, r, "dog.trashed", "dog", id)
	return seeOther(w, r, "/")
}
