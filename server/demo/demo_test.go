package demo

import (
	"testing"

	"thatch/server/salon"
	"thatch/store"
	"thatch/timeline"
	"thatch/timeline/plan"
)

// The story is the demo's promise: whoever changes a guess of the model or a rule of the plan sees here what it does to it.
func TestTheInventedSalonTellsItsStory(t *testing.T) {
	ctx := t.Context()
	st, err := store.Open(ctx, t.TempDir(), store.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer st.Close()
	s := salon.New(st, salon.Options{})
	last, of := 0, 0
	if err := Build(ctx, s, Options{Progress: func(done, total int, what timeline.Phrase) {
		if done < last || total < 50 || what.IsZero() {
			t.Errorf("progress goes from %d to %d of %d, saying %q", last, done, total, what)
		}
		last, of = done, total
	}}); err != nil {
		t.Fatal(err)
	}
	if last != of {
		t.Errorf("progress ends at %d of %d", last, of)
	}
	dogs, err := s.Dogs(ctx)
	if err != nil || len(dogs) != 4 {
		t.Fatalf("%d dogs, %v", len(dogs), err)
	}
	late := map[string]int{}
	for _, d := range dogs {
		if d.Name == Puppy {
			continue // not in the story of coats
		}
		line, err := s.Timeline(ctx, d.ID)
		if err != nil {
			t.Fatal(err)
		}
		if n := len(line.Sessions); n < 4 || n > 8 || len(line.Unpaired) != 0 {
			t.Errorf("%s has %d sessions and %d photos without one", d.Name, n, len(line.Unpaired))
		}
		for i, v := range line.Sessions {
			if i > 0 && v.On-line.Sessions[i-1].On != 14 {
				t.Errorf("%s: %v comes after %v", d.Name, v.On, line.Sessions[i-1].On)
			}
			phases, measured := map[timeline.Phase]int{}, 0
			for _, p := range v.Photos {
				phases[p.Phase]++
				if p.TakenSource != timeline.SourceExif {
					t.Errorf("%s: a photo's date comes from %q", d.Name, p.TakenSource)
				}
			}
			for _, f := range v.Zones {
				if f.MeasuredMM != nil {
					measured++
				}
			}
			today := v.Minutes == 0 // on the table now
			if n := phases[timeline.PhaseStart]; n < 2 || n > 3 || !today && (phases[timeline.PhaseEnd] != 2 || len(v.Work) == 0) || measured < 2 {
				t.Errorf("%s on %v: photos %v, %d lines, %d readings", d.Name, v.On, phases, len(v.Work), measured)
			}
		}
		p, err := s.Plan(ctx, d.ID)
		if err != nil {
			t.Fatal(err)
		}
		for _, z := range []timeline.Zone{timeline.Withers, timeline.Back, timeline.Loin} {
			o := p.Zones[z]
			if o.Verdict == plan.TooLate {
				late[d.Name]++
				if o.ReadyBy.IsZero() {
					t.Errorf("%s, %s: too late, and no day is told on which it would be ready", d.Name, z)
				}
			}
		}
	}
	if late["Sorrel"] != 3 || late["Bramble"] != 0 || late["Teasel"] != 0 {
		t.Errorf("the back is too late in %v, want only the third dog's, whole", late)
	}
	if err := Build(ctx, s, Options{}); timeline.KindOf(err) != timeline.Conflict {
		t.Errorf("built twice into one folder: %v", err)
	}
}
