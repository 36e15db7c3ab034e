package pages

import (
	"math/rand/v2"
	"net/url"
	"slices"
	"strings"
	"testing"

	"thatch/store"
)

func TestANoteThatTwoPhonesEditedHoldsBoth(t *testing.T) {
	for _, c := range []struct{ name, stands, was, typed, want string }{
		{"nobody else wrote", "Quiet.", "Quiet.", "Quiet. Ate well.", "Quiet. Ate well."},
		{"she shortened it, nobody else wrote", "Quiet. Ate well.", "Quiet. Ate well.", "Quiet.", "Quiet."},
		{"she changed nothing", "Quiet. Left ear.", "Quiet.", "Quiet.", "Quiet. Left ear."},
		{"both wrote at the end", "Quiet. Left ear.", "Quiet.", "Quiet. Ate well.", "Quiet. Left ear.\nAte well."},
		{"both wrote the same", "Quiet. Left ear.", "Quiet.", "Quiet. Left ear.", "Quiet. Left ear."},
		{"she rewrote it", "Quiet. Left ear.", "Quiet.", "Restless.", "Quiet. Left ear.\nRestless."},
		{"she emptied it", "Quiet. Left ear.", "Quiet.", "", "Quiet. Left ear."},
		{"hers holds theirs", "Quiet.", "", "Quiet. Ate well.", "Quiet. Ate well."},
	} {
		if got := mergedNote(c.stands, c.was, c.typed); got != c.want {
			t.Errorf("%s: %q, want %q", c.name, got, c.want)
		}
	}
	// Whatever two phones add to whatever was there, every word of both is in what is kept.
	r := rand.New(rand.NewPCG(3, 3))
	words := strings.Fields("quiet ear left. Dip\n filling tail? stood ok. rump")
	some := func() string {
		var out []string
		for range r.IntN(5) {
			out = append(out, words[r.IntN(len(words))])
		}
		return strings.Join(out, " ")
	}
	for range 2000 {
		was := some()
		stands, typed := strings.TrimSpace(was+" "+some()), strings.TrimSpace(was+" "+some())
		got := strings.Fields(mergedNote(stands, was, typed))
		for _, w := range append(strings.Fields(stands), strings.Fields(typed)...) {
			if !slices.Contains(got, w) {
				t.Fatalf("%q was there, %q stands, %q is typed: %q lacks %q", was, stands, typed, got, w)
			}
		}
	}
}

func TestZonesPassedOverAreReadFromAnything(t *testing.T) {
	for text, want := range map[string]int{"": 0, "back": 1, "back,back": 1, "back,wing,loin,,": 2, "<b>": 0, strings.Repeat("back,", 1000): 1} {
		if got := len(zonesOf(text)); got != want {
			t.Errorf("%.20q: %d zones, want %d", text, got, want)
		}
	}
}

// Two phones at the end of a visit: what one said of skin and hair is told with its places.
func TestAConflictTellsWhereTroubleWasFound(t *testing.T) {
	sp := speakerOf(store.Settings{Units: "mm", Lang: "en"})
	said := strings.Join(saidInWords(sp, form{Values: url.Values{
		"skin": {"pink"}, "skin_at": {"throat", "belly", "<b>"}, "hair_check": {"cut"}, "hair_at": {"back"},
	}}), " | ")
	for _, want := range []string{"Skin: where? throat and belly", "Hair check: where? back"} {
		if !strings.Contains(said, want) {
			t.Errorf("%q lacks %q", said, want)
		}
	}
	if strings.Contains(said, "<b>") {
		t.Errorf("what is no zone is told: %q", said)
	}
}
