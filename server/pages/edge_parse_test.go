package pages

import (
	"bytes"
	"context"
	"fmt"
	"log/slog"
	"math"
	"math/rand/v2"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"

	"thatch/timeline"
)

func typed(text string) form { return form{Values: url.Values{"points": {text}}} }

func TestPlacesAreReadAsTheyAreWritten(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 5))
	for range 200 {
		line := make([]timeline.XY, rng.IntN(30))
		for i := range line {
			line[i] = timeline.XY{X: rng.Float64()*5000 - 300, Y: rng.Float64()*5000 - 300}
		}
		got, err := placesOf(typed(placesText(line)), "points")
		if err != nil || len(got) != len(line) {
			t.Fatalf("%d places of %d: %v", len(got), len(line), err)
		}
		for i := range line {
			if math.Abs(got[i].X-line[i].X) > 0.051 || math.Abs(got[i].Y-line[i].Y) > 0.051 { // tenths of a pixel are written
				t.Fatalf("%v became %v", line[i], got[i])
			}
		}
	}
	for name, text := range map[string]string{"commas": "1, 2\n3,4", "empty lines": "\n1 2\r\n\r\n3\t4\n", "semicolons": "1;2\n3 ; 4"} {
		if got, err := placesOf(typed(text), "points"); err != nil || len(got) != 2 || got[1] != (timeline.XY{X: 3, Y: 4}) {
			t.Errorf("%s: %v, %v", name, got, err)
		}
	}
}

func FuzzPlaces(f *testing.F) {
	for _, seed := range []string{"", "1 2", "1 2 3", "NaN 1", "1e999 2", "-0.5, 7\n\n8 9", "Inf Inf", "\x00 1", "1"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		line, err := placesOf(typed(text), "points")
		if err != nil {
			if k := timeline.KindOf(err); k != timeline.Invalid {
				t.Fatalf("kind %d", k)
			}
			return
		}
		for _, p := range line {
			if math.IsNaN(p.X+p.Y) || math.IsInf(p.X, 0) || math.IsInf(p.Y, 0) {
				t.Fatalf("%v was let through", p)
			}
		}
	})
}

// A groomer who turns the page while an edge is looked for has done nothing wrong, and neither has the machine.
func TestWhoHasGoneIsNoTroubleOfTheMachine(t *testing.T) {
	var log bytes.Buffer
	s := &Site{log: slog.New(slog.NewTextHandler(&log, nil))}
	gone, leave := context.WithCancel(context.WithValue(t.Context(), visitKey{}, &visit{}))
	leave()
	for _, c := range []struct {
		name  string
		ctx   context.Context
		wants bool
	}{
		{"she has gone", gone, false},
		{"she waits, and the work was given up", context.WithoutCancel(gone), true},
	} {
		log.Reset()
		w := httptest.NewRecorder()
		if err := s.tellFault(w, httptest.NewRequest("POST", "/", nil).WithContext(c.ctx), fmt.Errorf("find: %w", context.Canceled)); err != nil {
			t.Fatal(err)
		}
		if got := strings.Contains(log.String(), "level=ERROR"); got != c.wants || (w.Body.Len() > 0) != c.wants {
			t.Errorf("%s: logged %v, answered %q", c.name, got, w.Body)
		}
	}
}
