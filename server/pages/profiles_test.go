package pages_test

import (
	"strings"
	"testing"

	"thatch/timeline"
	"thatch/timeline/outside"
)

func (x *house) kind(path string) string {
	x.t.Helper()
	w := x.get(path)
	if w.Code != 200 {
		x.t.Fatalf("%s: %d: %s", path, w.Code, faultText(w))
	}
	x.sound(path, w)
	return w.Body.String()
}

func TestABuiltInKindOfCoatIsReadCopiedAndChanged(t *testing.T) {
	x, _ := dated(t)
	if !strings.Contains(x.get("/settings").Body.String(), `href="/kinds"`) {
		t.Error("the settings do not lead there")
	}
	list := x.kind("/kinds")
	for _, key := range []string{"rough", "broken", "long_jacket", "no_undercoat"} {
		if !strings.Contains(list, `href="/kinds/`+key+`"`) {
			t.Errorf("%s is not listed", key)
		}
	}
	rough := x.kind("/kinds/rough")
	for _, want := range []string{"0.38", "12\u00a0mm", "40\u00a0mm", "common practice, no source", "judgement, no source", "Gunaratnam"} {
		if !strings.Contains(rough, want) {
			t.Errorf("rough does not show %q", want)
		}
	}
	if strings.Contains(rough, "/trash\"") && strings.Contains(rough, `action="/kinds/rough/trash"`) {
		t.Error("a built-in kind can be put aside")
	}
	at := x.goes(x.post("/kinds/rough/copy", "name", "Our terriers"), "/kinds/")
	mine := x.kind(at)
	if !strings.Contains(mine, "Our terriers") || !strings.Contains(mine, "made from rough") || !strings.Contains(mine, "nothing changed yet") {
		t.Error("the copy does not say what it is")
	}
	x.kind(at + "/rules")
	x.kind(at + "/growth")
	x.kind(at + "/hints")
	edit := x.kind(at + "/back")
	if !holds(edit, "zones.back.target.max_mm", "40") || !holds(edit, "zones.back.minutes.take", "20") || checked(edit, "zones.back.sensitive", "yes") {
		t.Error("the values are not in their fields")
	}
	back := []string{"rev", valueOf(edit, "rev"), "zones.back.length_max_mm.mean", "50", "zones.back.length_max_mm.sd", "12", "zones.back.rate_factor", "1",
		"zones.back.target.min_mm", "12", "zones.back.target.max_mm", "2,5 cm", "zones.back.target.in_hair", "", "zones.back.stripped", "yes", "zones.back.flat_by_days", "0", "zones.back.sensitive", "yes",
		"zones.back.minutes.take", "26,5", "zones.back.minutes.strip", "20", "zones.back.minutes.tidy", "5", "zones.back.minutes.card", "3", "zones.back.minutes.scissor", "5", "zones.back.minutes.clip", "4",
		"zones.back.scissor_mm", valueOf(edit, "zones.back.scissor_mm"), "zones.back.clip_mm", valueOf(edit, "zones.back.clip_mm"), "source", "measured on nine dogs"}
	x.goes(x.post(at+"/back", back...), at)
	k := must(x.s.Kind(t.Context(), strings.TrimPrefix(at, "/kinds/")))
	if k.Changed != 3 {
		t.Errorf("%d values changed, want 3", k.Changed)
	}
	now := x.kind(at)
	for _, want := range []string{"25\u00a0mm", "built in: 40\u00a0mm", "26.5", "built in: 20", "measured on nine dogs", "3 values changed"} {
		if !strings.Contains(now, want) {
			t.Errorf("the kind does not show %q", want)
		}
	}
	// A wrong value is said beside its field, with everything that was typed.
	edit = x.kind(at + "/back")
	for i, f := range back {
		if f == "rev" {
			back[i+1] = valueOf(edit, "rev")
		}
		if f == "zones.back.minutes.tidy" {
			back[i+1] = "0"
		}
	}
	w := x.post(at+"/back", back...)
	x.refuses("a tidying of no time", w, 422, `value="26,5"`)
	if !wrong(w.Body.String(), "zones.back.minutes.tidy") || wrong(w.Body.String(), "zones.back.minutes.take") {
		t.Error("not said beside its field")
	}
	// One value back, then all of the zone, then the whole kind aside and back again.
	page := x.follows(x.post(at+"/back", "rev", valueOf(edit, "rev"), "reset", "zones.back.target.max_mm"))
	if !holds(page.Body.String(), "zones.back.target.max_mm", "40") || !strings.Contains(page.Body.String(), "As built in again.") {
		t.Error("the value is not as built in")
	}
	x.goes(x.post(at+"/back", "rev", valueOf(page.Body.String(), "rev"), "reset", "all"), at)
	if k := must(x.s.Kind(t.Context(), k.Key)); k.Changed != 0 {
		t.Errorf("%d values changed", k.Changed)
	}
	page = x.follows(x.post(at + "/trash"))
	if !strings.Contains(page.Body.String(), `action="/restore/profile/`+k.Key+`"`) || strings.Contains(x.kind("/kinds"), "Our terriers") {
		t.Error("it is not put aside, or there is no way back")
	}
	if trash := x.kind("/trash"); !strings.Contains(trash, "Our terriers") || !strings.Contains(trash, "kind of coat") {
		t.Error("the trash does not show it")
	}
	x.goes(x.post("/restore/profile/"+k.Key, "back", "/kinds"), "/kinds")
	x.kind(at)
}

// What was rounded for the screen is not stored rounded: saving a part untouched changes nothing, in either unit.
func TestSavingAPartUntouchedChangesNothing(t *testing.T) {
	outside.Alone(t)
	for _, units := range []string{"mm", "in"} {
		x, _ := dated(t)
		if units == "in" {
			x.inches()
		}
		at := x.goes(x.post("/kinds/long_jacket/copy", "name", "Ours"), "/kinds/")
		k := must(x.s.Kind(t.Context(), strings.TrimPrefix(at, "/kinds/")))
		for _, part := range k.Parts {
			edit := x.kind(at + "/" + part.Name)
			fields := []string{"rev", valueOf(edit, "rev")}
			for _, v := range part.Values {
				switch {
				case v.Form == "yesno" && !checked(edit, v.Path, "yes"):
				case v.Form == "yesno":
					fields = append(fields, v.Path, "yes")
				case v.Form == "choice":
					fields = append(fields, v.Path, v.Value.(string))
				default:
					fields = append(fields, v.Path, valueOf(edit, v.Path))
				}
			}
			x.goes(x.post(at+"/"+part.Name, fields...), at)
		}
		if now := must(x.s.Kind(t.Context(), k.Key)); now.Changed != 0 {
			t.Errorf("%s: %d values changed", units, now.Changed)
		}
	}
}

func TestADogIsGivenAKindOfCoat(t *testing.T) {
	x, _ := dated(t)
	at := x.goes(x.post("/kinds/rough/copy", "name", "Ours"), "/kinds/")
	key := strings.TrimPrefix(at, "/kinds/")
	w := x.post("/dogs", "name", "Moss", "profile", key, "neutered", "yes")
	d := must(x.s.Dog(t.Context(), timeline.ID(strings.TrimPrefix(x.goes(w, "/dogs/"), "/dogs/"))))
	if d.Profile != key || !d.History.Neutered {
		t.Errorf("%+v", d)
	}
	x.goes(x.post(at+"/trash"), "/kinds")
	edit := x.get("/dogs/" + string(d.ID) + "/edit").Body.String()
	if !checked(edit, "profile", key) || !checked(edit, "neutered", "yes") {
		t.Error("a kind in the trash is not shown to the dog that has it")
	}
	if !strings.Contains(x.kind(at), "It is shown because a dog still has it") {
		t.Error("the kind does not say that it is in the trash")
	}
	x.goes(x.post("/dogs/"+string(d.ID)+"/edit", "rev", rev(d.Rev), "name", "Moss", "texture", "harsh", "undercoat", "some", "profile", "broken"), "/dogs/")
	if d = must(x.s.Dog(t.Context(), d.ID)); d.Profile != "broken" || d.History.Neutered {
		t.Errorf("%+v", d)
	}
	if w := x.get(at); w.Code != 404 {
		t.Errorf("a kind in the trash that no dog has: %d", w.Code)
	}
	x.refuses("a kind that is none", x.post("/dogs", "name", "Fern", "profile", "castle"), 422, `value="Fern"`)
}

func TestAKindThatIsNotThereIsNotFound(t *testing.T) {
	x, _ := dated(t)
	for _, path := range []string{"/kinds/castle", "/kinds/rough/back", "/kinds/castle/back"} {
		if w := x.get(path); w.Code != 404 {
			t.Errorf("%s: %d", path, w.Code)
		}
	}
	for _, path := range []string{"/kinds/rough/trash", "/kinds/rough/reset", "/kinds/rough/name", "/kinds/rough/back"} {
		if w := x.post(path, "rev", "1", "name", "Mine"); w.Code != 404 {
			t.Errorf("%s: %d", path, w.Code)
		}
	}
	x.refuses("a copy without a name", x.post("/kinds/rough/copy", "name", " "), 422)
	if w := x.post("/kinds/castle/copy", "name", "Mine"); w.Code != 422 && w.Code != 404 {
		t.Errorf("%d", w.Code)
	}
}
