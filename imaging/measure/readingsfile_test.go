package measure

import (
	"errors"
	"strings"
	"testing"

	"thatch/timeline"
)

func TestReadingsFilesAreReadOrRefusedWithThePlace(t *testing.T) {
	for _, c := range []struct{ name, text, field, key string }{
		{"two sittings", `{"sittings":[{"photos":["a.jpg"],"by_hand":{"back":{"mm":14}}},{"photos":["b.jpg","c.jpg"]}],"confirmed":["underline"]}`, "", ""},
		{"nothing said", `{}`, "", ""},
		{"no object", `[]`, "", "fault.measure.not_readings"},
		{"cut short", `{"sittings":[`, "", "fault.measure.not_readings"},
		{"more behind it", `{} {}`, "", "fault.measure.not_readings"},
		{"a word nobody knows", `{"sitings":[]}`, "", "fault.measure.not_readings"},
		{"a photo twice", `{"sittings":[{"photos":["a.jpg"]},{"photos":["a.jpg"]}]}`, "a.jpg", "fault.measure.twice"},
		{"an unknown zone", `{"sittings":[{"by_hand":{"wing":{"mm":3}}}]}`, "wing", "fault.measure.zone"},
		{"a zone the outline does not show", `{"sittings":[{"by_hand":{"ribs":{"mm":3}}}]}`, "ribs", "fault.measure.zone"},
		{"a depth below the skin", `{"sittings":[{"by_hand":{"back":{"mm":-1}}}]}`, "back", "fault.measure.range"},
		{"a depth of a sheep", `{"sittings":[{"by_hand":{"back":{"mm":151}}}]}`, "back", "fault.measure.range"},
		{"confirming what is not in the outline", `{"confirmed":["cheek"]}`, "confirmed", "fault.measure.zone"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := ReadReadings(strings.NewReader(c.text))
			var f *timeline.Fault
			if c.key == "" {
				if err != nil {
					t.Fatal(err)
				}
				return
			}
			if !errors.As(err, &f) || f.Say.Key != c.key || f.Field != c.field || f.Kind != timeline.Invalid {
				t.Errorf("%v", err)
			}
		})
	}
}

func FuzzReadReadings(f *testing.F) {
	f.Add([]byte(`{"sittings":[{"photos":["a.jpg"],"by_hand":{"back":{"mm":14,"sd_mm":1}}}],"confirmed":["underline"]}`))
	f.Fuzz(func(t *testing.T, b []byte) {
		r, err := ReadReadings(strings.NewReader(string(b)))
		if err != nil {
			return
		}
		for _, s := range r.Sittings {
			for z, h := range s.ByHand {
				if d := h.Depth(); !z.InOutline() || !(d.MM >= 0 && d.SDMM > 0) {
					t.Errorf("%s %+v", z, d)
				}
			}
		}
	})
}
