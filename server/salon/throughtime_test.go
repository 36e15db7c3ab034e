package salon

import (
	"image"
	"image/jpeg"
	"math"
	"testing"

	"thatch/imaging/phantom"
	"thatch/timeline"
)

func TestTheCoatThroughTimeLiesOverTheOldestPhoto(t *testing.T) {
	d := stood(t, phantom.Pose{Facing: timeline.SideLeft}, phantom.Pose{Facing: timeline.SideLeft})
	must(d.s.AddShow(ctx, timeline.Show{Dog: d.dog.ID, Name: "Hall Show", On: day("2026-06-24")}))
	unplaced := add(t, d.s, d.dog.ID, "late.jpg", snap(t, 9, "2026-06-09 10:00")).Photo
	must(d.s.SetPhotoFacts(ctx, unplaced.ID, unplaced.Rev, PhotoEdit{Side: timeline.SideLeft}))
	row := must(d.s.CoatThroughTime(ctx, d.dog.ID, "", false))
	if row.Side != timeline.SideLeft || row.Ref.ID != d.photos[0].ID || len(row.Frames) != 2 || row.Unlaid != 1 || row.Of != 2 {
		t.Fatalf("side %s ref %s, %d frames of %d, %d left out", row.Side, row.Ref.File, len(row.Frames), row.Of, row.Unlaid)
	}
	if row.Newest == nil || row.Newest.Photo.ID != unplaced.ID {
		t.Errorf("the newest photo waits for its points, the row says %+v", row.Newest)
	}
	for i, want := range []int{42, 28} {
		if f := row.Frames[i]; f.Show == nil || f.Days != want {
			t.Errorf("frame %d is %d days before %v, want %d", i, f.Days, f.Show, want)
		}
	}
	// The half is the whole, made smaller: the same places at half the pixels.
	whole, half := must(d.s.AlignedPicture(ctx, d.photos[1].ID, row.Ref.ID)), must(d.s.LaidPicture(ctx, d.photos[1].ID, row.Ref.ID, Laid{Half: true}))
	defer whole.Close()
	defer half.Close()
	a, b := must(jpeg.Decode(whole)), must(jpeg.Decode(half))
	if b.Bounds().Dx() != a.Bounds().Dx()/2 || b.Bounds().Dy() != a.Bounds().Dy()/2 || whole.ETag == half.ETag {
		t.Fatalf("%v and %v, %s and %s", a.Bounds(), b.Bounds(), whole.ETag, half.ETag)
	}
	off, n := 0.0, 0
	for y := 4; y < b.Bounds().Dy()-4; y += 5 {
		for x := 4; x < b.Bounds().Dx()-4; x += 5 {
			sum := 0.0
			for k := range 4 {
				r, _, _, _ := a.At(2*x+k%2, 2*y+k/2).RGBA()
				sum += float64(r>>8) / 4
			}
			r, _, _, _ := b.At(x, y).RGBA()
			off += math.Abs(float64(r>>8) - sum)
			n++
		}
	}
	if off/float64(n) > 6 {
		t.Errorf("the half differs by %.1f levels from the whole", off/float64(n))
	}
	own := must(d.s.LaidPicture(ctx, unplaced.ID, unplaced.ID, Laid{Half: true}))
	defer own.Close()
	if img := must(jpeg.Decode(own)); img.Bounds().Dx() != 48 {
		t.Errorf("a photo without points over itself is %d px wide, want half of 96", img.Bounds().Dx())
	}
	// The ghost is the newest that could be measured.
	g := must(d.s.GhostOf(ctx, d.dog.ID, timeline.SideLeft))
	if g.Photo.ID != d.photos[1].ID || g.Ref != d.photos[0].ID || !g.Measured || g.Mirrored || g.Facing != timeline.SideLeft {
		t.Errorf("ghost %+v", g)
	}
	if g = must(d.s.GhostOf(ctx, d.dog.ID, timeline.SideRight)); !g.Mirrored || g.Facing != timeline.SideRight || g.Photo.ID != d.photos[1].ID {
		t.Errorf("from the other side: mirrored %v, facing %s", g.Mirrored, g.Facing)
	}
	if g = must(d.s.GhostOf(ctx, d.dog.ID, timeline.SideRear)); g.Photo.ID != "" || g.Measured {
		t.Errorf("from the rear: %+v", g)
	}
}

func TestWhatHasChangedIsToldWithItsErrorOrNotAtAll(t *testing.T) {
	d := stood(t, phantom.Pose{Facing: timeline.SideLeft}, phantom.Pose{Facing: timeline.SideLeft})
	change := func(a, b timeline.Photo, z timeline.Zone) (*Change, Comparison) {
		t.Helper()
		c := must(d.s.Compare(ctx, a.ID, b.ID))
		for _, one := range c.Zones {
			if one.Zone == z {
				return one.Change, c
			}
		}
		return nil, c
	}
	// Both days were read as 24 mm: no change, and it is said to be chance; the line is drawn where the back is.
	got, c := change(d.photos[0], d.photos[1], timeline.Back)
	if got == nil || got.MM != 0 || got.Real || got.Of != "length" || got.SDMM != rulerChangeSDMM || got.D == "" {
		t.Fatalf("back: %+v", got)
	}
	w, ts := d.truth[0].Landmarks[timeline.WithersPt], d.truth[0].Landmarks[timeline.TailSet]
	if got.At.X < math.Min(w.X, ts.X) || got.At.X > math.Max(w.X, ts.X) || got.At.Y > math.Max(w.Y, ts.Y) {
		t.Errorf("the figure of the back stands at %v, withers %v, tail %v", got.At, w, ts)
	}
	if len(c.OverlayA.Lines) == 0 {
		t.Error("no lines")
	}
	if got, _ = change(d.photos[0], d.photos[1], timeline.Ears); got != nil {
		t.Errorf("ears: %+v", got)
	}
	// Six millimetres less on the second day is more than two rulers are apart by chance.
	v := must(d.s.st.SessionOn(ctx, d.dog.ID, day("2026-05-27")))
	for _, r := range must(d.s.st.Readings(ctx, d.dog.ID)) {
		if r.On == v.On && r.Zone == timeline.Back {
			ok(d.s.st.TrashReading(ctx, r.ID))
		}
	}
	must(d.s.AddReadings(ctx, d.dog.ID, v.ID, v.On, map[timeline.Zone]float64{timeline.Back: jacketMM - 6}, true))
	if got, _ = change(d.photos[0], d.photos[1], timeline.Back); got == nil || got.MM != -6 || !got.Real {
		t.Errorf("six less: %+v", got)
	}
	if got, _ = change(d.photos[1], d.photos[0], timeline.Back); got == nil || got.MM != 6 {
		t.Errorf("the other way round: %+v", got)
	}
	// Two photos of one sitting show the same coat.
	twin := add(t, d.s, d.dog.ID, "twin.jpg", snap(t, 3, "2026-05-27 10:30")).Photo
	twin = must(d.s.SetPhotoFacts(ctx, twin.ID, twin.Rev, PhotoEdit{Side: timeline.SideLeft}))
	if got, _ = change(d.photos[1], twin, timeline.Back); got != nil {
		t.Errorf("of one sitting: %+v", got)
	}
}

func TestPhotosFromTheFrontAreLaidByTheMarkerAndNotMeasured(t *testing.T) {
	s, _ := opened(t)
	d := newDog(t, s, "Wisp", day("2026-05-01"))
	sheet := sheetOf(t, d.ID)
	var photos []timeline.Photo
	for i, things := range [][]image.Image{{sheet}, {image.NewGray(image.Rect(0, 0, 210, 300)), sheet}} {
		p := add(t, s, d.ID, "front.jpg", room(t, uint64(i), []string{"2026-06-01 10:00", "2026-06-09 10:00"}[i], things...)).Photo
		photos = append(photos, must(s.SetPhotoFacts(ctx, p.ID, p.Rev, PhotoEdit{Side: timeline.SideFront, CoatState: timeline.CoatBrushedDown})))
	}
	a, b := photos[0], photos[1]
	if c := must(s.Compare(ctx, a.ID, b.ID)); c.Aligned || c.ByMarker {
		t.Error("laid before anybody has looked for the marker")
	}
	work(t, s)
	c := must(s.Compare(ctx, a.ID, b.ID))
	if !c.Aligned || !c.ByMarker || c.Comparable || len(c.LookOnly) == 0 || c.LookOnly[0].Key != "look.side" {
		t.Fatalf("aligned %v by marker %v comparable %v: %v", c.Aligned, c.ByMarker, c.Comparable, c.LookOnly)
	}
	from, to := lookAt(t, s, b.SHA256).Seen.CornersPX, lookAt(t, s, a.SHA256).Seen.CornersPX
	for i := range from {
		if got := c.Align.Transform.Apply(from[i]); math.Hypot(got.X-to[i].X, got.Y-to[i].Y) > 1 || math.Hypot(from[i].X-to[i].X, from[i].Y-to[i].Y) < 100 {
			t.Errorf("corner %d: %v lands at %v, want %v", i, from[i], got, to[i])
		}
	}
	if len(c.OverlayA.Lines)+len(c.OverlayB.Lines) != 0 {
		t.Error("lines are drawn on a photo from the front")
	}
	for _, z := range c.Zones {
		if z.Change != nil && z.Change.D != "" {
			t.Errorf("a difference of the %s is drawn", z.Zone)
		}
	}
	must(s.LaidPicture(ctx, b.ID, a.ID, Laid{Half: true})).Close()
	b = must(s.SetPhotoFacts(ctx, b.ID, b.Rev, PhotoEdit{Side: timeline.SideRear}))
	if c = must(s.Compare(ctx, a.ID, b.ID)); c.Aligned {
		t.Error("front and rear are laid over each other")
	}
}
