package salon

import (
	"fmt"
	"slices"
	"testing"
	"time"

	"thatch/timeline"
)

// years are photos of the left side on so many days, three a day: start, start, end; of every fifth day one from the front.
func years(days int) (out []timeline.Photo) {
	first := day("2020-01-01")
	for i := range days {
		on := first + timeline.Day(7*i)
		for k, phase := range []timeline.Phase{timeline.PhaseStart, timeline.PhaseStart, timeline.PhaseEnd} {
			p := timeline.Photo{ID: timeline.ID(fmt.Sprintf("p%03d%d", i, k)), Side: timeline.SideLeft, Phase: phase, CoatState: timeline.CoatBrushedDown, Ready: true}
			p.Moment.Local = on.Time().Add(time.Duration(9+k) * time.Hour).Format(localLayout)
			if k == 1 { // of two at the start the second has its points
				p.Landmarks = timeline.Landmarks{timeline.WithersPt: {X: 1}, timeline.MidBack: {X: 2}, timeline.TailSet: {X: 3}, timeline.Buttock: {X: 4}, timeline.Prosternum: {X: 5}, timeline.Elbow: {X: 6}}
			}
			out = append(out, p)
		}
		if i%5 == 0 {
			p := out[len(out)-1]
			p.ID, p.Side = timeline.ID(fmt.Sprintf("f%03d", i)), timeline.SideFront
			out = append(out, p)
		}
	}
	return out
}

func TestADayIsShownByThePhotoThatTellsMost(t *testing.T) {
	days := photoDays(years(3), timeline.SideLeft)
	if len(days) != 3 {
		t.Fatalf("%d days", len(days))
	}
	for i, d := range days {
		if d.Photos != 3 || d.Photo.ID != timeline.ID(fmt.Sprintf("p%03d1", i)) {
			t.Errorf("day %d: %s of %d", i, d.Photo.ID, d.Photos)
		}
	}
	if n := len(photoDays(years(11), timeline.SideFront)); n != 3 {
		t.Errorf("%d days from the front, want 3", n)
	}
}

func TestBesideAPhotoOnlyAFewOthersAreOffered(t *testing.T) {
	all := years(200)
	p := all[400]
	near := nearby(all, p)
	if len(near) != nearbyPhotos {
		t.Fatalf("%d photos", len(near))
	}
	if !slices.ContainsFunc(near, func(q timeline.Photo) bool { return q.ID == "p0001" }) {
		t.Error("the very first is not among them")
	}
	if near[0].Moment.Day() != p.Moment.Day() || near[0].Phase == p.Phase {
		t.Errorf("the first is of %s, %s; want the other phase of the same day", near[0].Moment.Day(), near[0].Phase)
	}
	seen := map[timeline.ID]bool{p.ID: true}
	for _, q := range near {
		if seen[q.ID] || q.Side != p.Side {
			t.Errorf("%s is there twice, is the photo itself or of another side", q.ID)
		}
		seen[q.ID] = true
	}
	if got := nearby(years(1), years(1)[0]); len(got) != 1 {
		t.Errorf("of one day: %d", len(got))
	}
	if got := ofDay(all, p); len(got) != 3 {
		t.Errorf("of that day: %d", len(got))
	}
}

func TestARowKeepsItsEndsWhenItIsThinned(t *testing.T) {
	all := years(200)
	got := spread(all, mostFrames)
	if len(got) != mostFrames || got[0].ID != all[0].ID || got[mostFrames-1].ID != all[len(all)-1].ID {
		t.Fatalf("%d frames, %s to %s", len(got), got[0].ID, got[len(got)-1].ID)
	}
	for i := 1; i < len(got); i++ {
		if got[i].Moment.Local < got[i-1].Moment.Local || got[i].ID == got[i-1].ID {
			t.Fatalf("frame %d: %s after %s", i, got[i].ID, got[i-1].ID)
		}
	}
	if few := spread(all[:5], mostFrames); len(few) != 5 {
		t.Errorf("%d of 5", len(few))
	}
}

func TestFirstAgainstLastAreTwoThatLieOverEachOther(t *testing.T) {
	for name, c := range map[string]struct {
		without     []int // days whose photos have no points
		first, last int
	}{
		"all have points":            {nil, 0, 4},
		"today's have none yet":      {[]int{4}, 0, 3},
		"the oldest have none":       {[]int{0, 1}, 2, 4},
		"only one day has points":    {[]int{0, 1, 3, 4}, 0, 4},
		"none has":                   {[]int{0, 1, 2, 3, 4}, 0, 4},
		"the first and the last not": {[]int{0, 4}, 1, 3},
	} {
		days := photoDays(years(5), timeline.SideLeft)
		for _, i := range c.without {
			days[i].Photo.Landmarks = nil
		}
		if a, b := endsOf(days); a.On != days[c.first].On || b.On != days[c.last].On {
			t.Errorf("%s: %s against %s, want days %d and %d", name, a.On, b.On, c.first, c.last)
		}
	}
}

func TestTheRowOfDaysIsPaged(t *testing.T) {
	s, _ := opened(t)
	d := newDog(t, s, "Wisp", day("2026-01-01"))
	var photos []timeline.Photo
	for i := range 31 {
		photos = append(photos, add(t, s, d.ID, fmt.Sprintf("%d.jpg", i), snap(t, uint64(i), fmt.Sprintf("2026-05-%02d 09:00", i+1))).Photo)
	}
	a, b := photos[0], photos[30]
	ends := func(c CompareChoice) string {
		return fmt.Sprintf("%s to %s, %d of them", c.Days[0].On, c.Days[len(c.Days)-1].On, len(c.Days))
	}
	c := must(s.CompareChoice(ctx, a, b, "", 0))
	if got := ends(c); got != "2026-05-20 to 2026-05-31, 12 of them" || c.Earlier != day("2026-05-19") || !c.Later.IsZero() {
		t.Errorf("first shown: %s, earlier %s, later %s", got, c.Earlier, c.Later)
	}
	if c.First != a.ID || c.Last != b.ID || len(c.Sides) != 1 || c.Sides[0].Days != 31 {
		t.Errorf("first %s last %s sides %v", c.First, c.Last, c.Sides)
	}
	// Walking to the earliest and back meets every day.
	met := map[timeline.Day]bool{}
	until := timeline.Day(0)
	for range 5 {
		c = must(s.CompareChoice(ctx, a, b, "", until))
		for _, one := range c.Days {
			met[one.On] = true
		}
		if until = c.Earlier; until.IsZero() {
			break
		}
	}
	if len(met) != 31 || c.Later.IsZero() {
		t.Errorf("%d days met; at the end of the way later is %s", len(met), c.Later)
	}
	for range 5 {
		if c.Later.IsZero() {
			break
		}
		c = must(s.CompareChoice(ctx, a, b, "", c.Later))
	}
	if got := ends(c); got != "2026-05-20 to 2026-05-31, 12 of them" {
		t.Errorf("and back: %s", got)
	}
	// A pair of long ago is shown with its own days.
	if c = must(s.CompareChoice(ctx, a, photos[3], "", 0)); !slices.ContainsFunc(c.Days, func(o CompareDay) bool { return o.On == day("2026-05-04") }) {
		t.Errorf("of an early pair: %s", ends(c))
	}
	x, y, have, err := s.FirstAgainstLast(ctx, d.ID, "")
	if err != nil || !have || x != a.ID || y != b.ID {
		t.Errorf("first against last: %s %s %v %v", x, y, have, err)
	}
	if _, _, have, err = s.FirstAgainstLast(ctx, d.ID, timeline.SideRear); err != nil || have {
		t.Errorf("from the rear there is nothing: %v %v", have, err)
	}
}
