package salon

import (
	"bytes"
	"context"
	"image"
	"image/color"
	"math/rand/v2"
	"sync/atomic"
	"testing"
	"time"

	"thatch/imaging"
	"thatch/store"
	"thatch/timeline"
)

var ctx = context.Background()

// clock is a present that tests move.
type clock struct{ at atomic.Int64 }

func (c *clock) now() time.Time     { return time.Unix(c.at.Load(), 0) }
func (c *clock) set(d timeline.Day) { c.at.Store(d.Time().Add(12 * time.Hour).Unix()) }
func day(text string) timeline.Day  { return must(timeline.ParseDay(text)) }
func must[T any](v T, err error) T  { ok(err); return v }
func ok(err error) {
	if err != nil {
		panic(err)
	}
}

// opened is a salon in London on a real store in a folder of the test; today is 2026-06-10.
func opened(t testing.TB) (*Salon, *clock) {
	t.Helper()
	c := &clock{}
	c.set(day("2026-06-10"))
	st, err := store.Open(ctx, t.TempDir(), store.Options{Now: c.now})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { st.Close() })
	s := New(st, Options{Now: c.now})
	set := must(s.Settings(ctx))
	set.Zone, set.Units, set.Lang, set.SalonName = "Europe/London", "mm", "en", "The Shed"
	must(s.SaveSettings(ctx, set))
	return s, c
}

// newDog is a rolled dog whose coat was last worked two weeks before the given day.
func newDog(t testing.TB, s *Salon, name string, on timeline.Day) timeline.Dog {
	t.Helper()
	d, err := s.CreateDog(ctx, NewDog{
		Name: name, WithersMM: 340, ShareOK: true,
		Answers: timeline.Answers{On: on, LastWorked: on - 14, Rolled: true, Undercoat: timeline.UndercoatSome, LongestWithersMM: 26},
	})
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// snap is a small JPEG with a date by its own clock; every seed is another picture. local "" : no date.
func snap(t testing.TB, seed uint64, local string) []byte {
	t.Helper()
	return snapOf(t, seed, imaging.EXIFFields{TakenLocal: wall(local), Make: "Test", Model: "One"})
}

func wall(local string) time.Time {
	if local == "" {
		return time.Time{}
	}
	return must(time.Parse("2006-01-02 15:04", local))
}

func snapOf(t testing.TB, seed uint64, e imaging.EXIFFields) []byte {
	t.Helper()
	rng := rand.New(rand.NewPCG(seed, 1))
	img := image.NewNRGBA(image.Rect(0, 0, 96, 72))
	base := color.NRGBA{uint8(rng.UintN(200)), uint8(rng.UintN(200)), uint8(rng.UintN(200)), 255}
	for y := range 72 {
		for x := range 96 {
			c := base
			c.R += uint8(rng.UintN(40))
			img.SetNRGBA(x, y, c)
		}
	}
	var b bytes.Buffer
	ok(imaging.EncodeJPEG(&b, img, 85))
	return must(imaging.InsertEXIF(b.Bytes(), e))
}

func add(t testing.TB, s *Salon, dog timeline.ID, name string, b []byte) Added {
	t.Helper()
	a, err := s.AddPhoto(ctx, dog, name, bytes.NewReader(b), "")
	if err != nil {
		t.Fatalf("add %s: %v", name, err)
	}
	return a
}

// wantFault checks kind, key and field of an error; field "" is not looked at.
func wantFault(t testing.TB, err error, kind timeline.Kind, key, field string) {
	t.Helper()
	f := faultOf(err)
	if f == nil {
		t.Fatalf("got %v, want a fault %s", err, key)
	}
	if f.Kind != kind || f.Say.Key != key || field != "" && f.Field != field {
		t.Fatalf("got kind %d, %s at %q; want kind %d, %s at %q", f.Kind, f.Say, f.Field, kind, key, field)
	}
}
