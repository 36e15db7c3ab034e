package salon

import (
	"image"
	"image/jpeg"
	"io"
	"math"
	"testing"

	"thatch/imaging"
	"thatch/imaging/phantom"
	"thatch/timeline"
)

// shows says that a photo's marker was seen with patches of these colours.
func (d standing) shows(i int, grey, white *[3]float64) {
	seen := &timeline.MarkerSeen{SizeMM: 60, MMPerPX: 0.5, GreyRGB: grey, WhiteRGB: white}
	ok(d.s.st.SetMarkerLook(ctx, d.photos[i].SHA256, timeline.MarkerLook{Seen: seen, Maker: lookVersion}))
}

// lightOf is the mean light of a picture in each channel.
func lightOf(t *testing.T, p Picture) (sum [3]float64) {
	t.Helper()
	defer p.Close()
	img, err := jpeg.Decode(io.Reader(p))
	if err != nil {
		t.Fatal(err)
	}
	light := imaging.LinearLight()
	b := img.Bounds()
	out := image.NewNRGBA(b)
	n := float64(b.Dx() * b.Dy())
	for y := b.Min.Y; y < b.Max.Y; y++ {
		for x := b.Min.X; x < b.Max.X; x++ {
			out.Set(x, y, img.At(x, y))
			i := out.PixOffset(x, y)
			for c := range sum {
				sum[c] += light[out.Pix[i+c]] / n
			}
		}
	}
	return sum
}

func TestTwoPhotosAreComparedUnderTheSameLightWhereBothShowTheMarker(t *testing.T) {
	d := stood(t, phantom.Pose{Facing: timeline.SideLeft}, phantom.Pose{Facing: timeline.SideLeft, HeadDeg: 4})
	a, b := d.photos[0].ID, d.photos[1].ID
	look := func() BalanceLook { return must(d.s.Compare(ctx, a, b)).Balance }
	refused := func(key string) {
		t.Helper()
		if l := look(); l.Can || l.Why.Key != key {
			t.Errorf("can %t, %s; want %s", l.Can, l.Why, key)
		}
		_, err := d.s.BalancedPicture(ctx, a, b)
		wantFault(t, err, timeline.Invalid, "fault.photo.not_balanced", "")
		_, err = d.s.BalancedOver(ctx, b, a)
		wantFault(t, err, timeline.Invalid, "fault.photo.not_balanced", "")
	}
	warm, cool := &[3]float64{200, 170, 140}, &[3]float64{150, 165, 180}
	refused("balance.no_marker")
	d.shows(0, nil, warm)
	refused("balance.no_marker") // one alone is none
	d.shows(1, nil, nil)
	refused("balance.no_patch")
	d.shows(1, cool, nil)
	if l := look(); !l.Can || !l.Why.IsZero() {
		t.Fatalf("both show it: %s", l.Why)
	}

	was := lightOf(t, must(d.s.Picture(ctx, a, PictureView)))
	now := lightOf(t, must(d.s.BalancedPicture(ctx, a, b)))
	gain := must2(imaging.BalanceOf(warm))
	for c := range was {
		// Whatever is cut off at white, and what the second JPEG costs, is a small part of the light.
		if got := now[c] / was[c]; math.Abs(got/gain[c]-1) > 0.03 {
			t.Errorf("channel %d: light times %.3f, want %.3f", c, got, gain[c])
		}
	}
	if again := lightOf(t, must(d.s.Picture(ctx, a, PictureView))); again != was {
		t.Error("the photo's own view is balanced too")
	}
	plain, over := lightOf(t, must(d.s.AlignedPicture(ctx, b, a))), lightOf(t, must(d.s.BalancedOver(ctx, b, a)))
	gain = must2(imaging.BalanceOf(cool))
	for c := range plain {
		if got := over[c] / plain[c]; math.Abs(got/gain[c]-1) > 0.03 {
			t.Errorf("laid over, channel %d: light times %.3f, want %.3f", c, got, gain[c])
		}
	}
	if again := lightOf(t, must(d.s.AlignedPicture(ctx, b, a))); again != plain {
		t.Error("what is laid over without the switch is balanced too")
	}
	// Another look at the marker makes another picture.
	d.shows(0, nil, &[3]float64{170, 170, 170})
	if even := lightOf(t, must(d.s.BalancedPicture(ctx, a, b))); math.Abs(even[0]/was[0]-1) > 0.02 {
		t.Errorf("after another look: light times %.3f", even[0]/was[0])
	}
	other := newDog(t, d.s, "Teasel", day("2026-05-13"))
	theirs := add(t, d.s, other.ID, "x.jpg", snap(t, 9, "2026-05-13 10:00")).Photo
	_, err := d.s.BalancedPicture(ctx, a, theirs.ID)
	wantFault(t, err, timeline.Invalid, "fault.photo.other_dog", "other")
}

func must2[T any](v T, isOK bool) T {
	if !isOK {
		panic("not ok")
	}
	return v
}
