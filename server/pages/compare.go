package pages

import (
	"net/http"
	"slices"

	"thatch/server/salon"
	"thatch/timeline"
)

type comparePage struct {
	frame
	salon.Comparison
	Light  bool                // white balance is on
	A0, B0 string              // picture URLs in the frame of Ref, where aligned
	Rows   []salon.CompareZone // zones that were measured on one of the days
	All    []timeline.Photo    // of the dog, those with a date, newest first
}

var compareView = declare[comparePage]("compare")

// compare shows any two photos of a dog: /compare?a=…&b=…
func (s *Site) compare(w http.ResponseWriter, r *http.Request) error {
	q := r.URL.Query()
	c, err := s.salon.Compare(r.Context(), timeline.ID(q.Get("a")), timeline.ID(q.Get("b")))
	if err != nil {
		return err
	}
	p := comparePage{frame: frame{Tab: "compare", Dog: navOf(c.Dog)}, Comparison: c}
	p.Light = c.Balance.Can && q.Get("balance") == "on"
	one := func(ph, other timeline.Photo) string {
		switch over := c.Aligned && ph.ID == c.Over.ID; {
		case over && p.Light:
			return "/photos/" + string(ph.ID) + "/over/" + string(c.Ref.ID) + "?balance=on"
		case over:
			return "/photos/" + string(ph.ID) + "/over/" + string(c.Ref.ID)
		case p.Light:
			return "/photos/" + string(ph.ID) + "/balanced/" + string(other.ID)
		}
		return "/photos/" + string(ph.ID) + "/picture/view"
	}
	p.A0, p.B0 = one(c.A, c.B), one(c.B, c.A)
	for _, z := range c.Zones {
		if z.A.MeasuredMM != nil || z.B.MeasuredMM != nil {
			p.Rows = append(p.Rows, z)
		}
	}
	photos, err := s.salon.Photos(r.Context(), c.Dog.ID)
	if err != nil {
		return err
	}
	for _, ph := range slices.Backward(photos) {
		if !ph.Moment.Day().IsZero() || ph.ID == c.A.ID || ph.ID == c.B.ID {
			p.All = append(p.All, ph)
		}
	}
	return compareView.show(s, w, r, p)
}
