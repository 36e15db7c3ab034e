package pages

import (
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strings"

	"thatch/server/salon"
	"thatch/timeline"
)

type throughTimePage struct {
	frame
	salon.ThroughTime
	At int // the frame that is shown
}

var throughTimeView = declare[throughTimePage]("throughtime")

// throughTime plays a dog's photos of a side in order: /dogs/{id}/time?side=left&every=all&at=…
func (s *Site) throughTime(w http.ResponseWriter, r *http.Request) error {
	q := r.URL.Query()
	t, err := s.salon.CoatThroughTime(r.Context(), idOf(r, "id"), timeline.Side(q.Get("side")), q.Get("every") == "all")
	if err != nil {
		return err
	}
	p := throughTimePage{frame: frame{Tab: "time", Dog: navOf(t.Dog)}, ThroughTime: t, At: len(t.Frames) - 1}
	if i := slices.IndexFunc(t.Frames, func(f salon.TimeFrame) bool { return f.Photo.ID == timeline.ID(q.Get("at")) }); i >= 0 {
		p.At = i
	}
	return throughTimeView.show(s, w, r, p)
}

// Now is the frame that is shown.
func (p throughTimePage) Now() salon.TimeFrame { return p.Frames[p.At] }

// Picture is where a frame's picture is.
func (p throughTimePage) Picture(f salon.TimeFrame) string {
	if p.Laid() {
		return laidURL(f.Photo.ID, p.Ref.ID, true)
	}
	return laidURL(f.Photo.ID, f.Photo.ID, true)
}

// Laid reports that the photos lie over each other.
func (p throughTimePage) Laid() bool { return p.Side.Measured() }

// WidthPX and HeightPX are of the frame in which all are shown.
func (p throughTimePage) WidthPX() int {
	if p.Laid() {
		return p.Ref.WidthPX
	}
	return p.Now().Photo.WidthPX
}

// HeightPX is WidthPX's other side.
func (p throughTimePage) HeightPX() int {
	if p.Laid() {
		return p.Ref.HeightPX
	}
	return p.Now().Photo.HeightPX
}

// DaysIn is how many days after the row's first a frame is: the scrubber goes by days, as the coat does.
func (p throughTimePage) DaysIn(f salon.TimeFrame) int { return int(f.On - p.Frames[0].On) }

// Span is how many days the row goes over; 1 at least.
func (p throughTimePage) Span() int { return max(1, p.DaysIn(p.Frames[len(p.Frames)-1])) }

// Ticks are a path of one stroke a day photographed, in days by 10.
func (p throughTimePage) Ticks() string {
	var d strings.Builder
	for i, f := range p.Frames {
		if i == 0 || f.On != p.Frames[i-1].On {
			fmt.Fprintf(&d, "M%d 0V10", p.DaysIn(f))
		}
	}
	return d.String()
}

// To is the address of the row at a frame; of another side where one is named.
func (p throughTimePage) To(side timeline.Side, all bool, at timeline.ID) string {
	q := url.Values{"side": {string(side)}}
	if all {
		q.Set("every", "all")
	}
	if at != "" {
		q.Set("at", string(at))
	}
	return "/dogs/" + string(p.ThroughTime.Dog.ID) + "/time?" + q.Encode()
}

// Step is the frame so many further on; "" where the row ends.
func (p throughTimePage) Step(n int) timeline.ID {
	if i := p.At + n; i >= 0 && i < len(p.Frames) {
		return p.Frames[i].Photo.ID
	}
	return ""
}

// FirstID is the photo that the one shown may be compared with: the first, or the last where the first is shown; "": there is no other.
func (p throughTimePage) FirstID() timeline.ID {
	if len(p.Frames) < 2 {
		return ""
	}
	if p.At == 0 {
		return p.Frames[len(p.Frames)-1].Photo.ID
	}
	return p.Frames[0].Photo.ID
}
