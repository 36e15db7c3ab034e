package pages

import (
	"math"
	"net/http"
	"net/url"
	"slices"
	"strings"

	"thatch/server/salon"
	"thatch/timeline"
	"thatch/web/words"
)

// measureCard is one zone to read with a ruler, as one big card: what the partial "measurecard" is given.
type measureCard struct {
	salon.MeasureNext
	Skip     []timeline.Zone // passed over
	Value    string          // in the field, in the salon's unit
	Taught   *salon.Taught   // what the reading before this one changed; nil: there was none
	Warnings []salon.ReadingWarning
	Form     form
}

// Skipped is how a form carries what was passed over.
func (c measureCard) Skipped() string { return joined(c.Skip) }

// Passes is Skip with this zone.
func (c measureCard) Passes() string { return joined(append(slices.Clone(c.Skip), c.Zone)) }

func joined(zones []timeline.Zone) string { return strings.Join(texts(zones), ",") }

func zonesOf(text string) []timeline.Zone {
	var out []timeline.Zone
	for _, name := range strings.Split(text, ",") {
		if z := timeline.Zone(name); z.Known() && !slices.Contains(out, z) {
			out = append(out, z)
		}
	}
	return out
}

// measureCardOf is the card that the query (on) or form (day) asks for: zone, skip, read, mm.
func (s *Site) measureCardOf(r *http.Request, dog timeline.ID, today timeline.Day, f form) (measureCard, error) {
	sp := speakerOf(visitOf(r).settings)
	on, err := f.day("day")
	if on.IsZero() {
		on, err = f.day("on")
	}
	if err != nil || on.IsZero() || on > today {
		on = today
	}
	c := measureCard{Skip: zonesOf(f.Get("skip")), Form: f}
	if c.MeasureNext, err = s.salon.MeasureNext(r.Context(), dog, on, timeline.Zone(f.Get("zone")), c.Skip); err != nil {
		return c, err
	}
	if id := f.Get("read"); idPattern.MatchString(id) {
		if c.Taught, err = s.salon.TaughtBy(r.Context(), dog, timeline.ID(id)); err != nil {
			return c, err
		}
	}
	c.Value = f.Get("mm")
	if c.Value == "" && c.Last != nil {
		c.Value = sp.LengthNumber(c.Last.LengthMM)
	}
	return c, nil
}

// nudgeMM is what one tap on plus or minus changes: a millimetre, or the sixteenth of an inch that rulers have.
func nudgeMM(sp words.Speaker) float64 {
	if sp.Units == words.Inches {
		return words.MMPerInch / 16
	}
	return 1
}

// measureOne is a tap on the card: keep the reading and go on, pass the zone over, one more or less, or take the last reading
// back.
func (s *Site) measureOne(w http.ResponseWriter, r *http.Request) error {
	f, err := readForm(w, r)
	if err != nil {
		return err
	}
	dog := idOf(r, "id")
	sp := speakerOf(visitOf(r).settings)
	zone := timeline.Zone(f.Get("zone"))
	on, wrong := f.day("day")
	q := url.Values{}
	set := func(name, value string) {
		if value != "" {
			q.Set(name, value)
		}
	}
	set("on", f.text("day"))
	set("skip", f.Get("skip"))
	to := func() error { return seeOther(w, r, "/dogs/"+string(dog)+"/readings?"+q.Encode()+"#measure") }
	again := func(err error) error {
		return f.again(err, func(code int) error { return s.showReadings(w, r, code, f, nil) })
	}
	if wrong != nil {
		return again(wrong)
	}
	switch f.Get("action") {
	case "skip":
		set("skip", joined(append(zonesOf(f.Get("skip")), zone)))
		return to()
	case "less", "more":
		mm, err := f.length(r, "mm")
		if err != nil {
			return again(err)
		}
		step := nudgeMM(sp)
		if f.Get("action") == "less" {
			step = -step
		}
		set("zone", string(zone))
		set("mm", sp.LengthNumber(math.Max(0, mm+step)))
		return to()
	case "undo":
		if err := s.salon.TrashReading(r.Context(), timeline.ID(f.Get("read"))); err != nil {
			return err
		}
		set("zone", string(zone))
		set("mm", f.text("mm"))
		return to()
	}
	mm, err := f.length(r, "mm")
	if err == nil && f.text("mm") == "" {
		err = timeline.NewFault(timeline.Invalid, "fault.reading.none").In("mm")
	}
	var added salon.ReadingsAdded
	if err == nil {
		added, err = s.salon.AddReadings(r.Context(), dog, "", on, map[timeline.Zone]float64{zone: mm}, f.Get("action") == "confirm")
	}
	if err != nil {
		return again(err)
	}
	if !added.Stored {
		return s.showReadings(w, r, http.StatusUnprocessableEntity, f, added.Warnings)
	}
	set("read", string(added.Readings[0].ID))
	return to()
}
