package salon

import (
	"testing"

	"thatch/timeline"
)

func TestNoFineBladeIsProposedForTheJacket(t *testing.T) {
	for _, z := range []timeline.Zone{timeline.Withers, timeline.Back, timeline.Loin, timeline.Ribs, timeline.Rump, timeline.Crest} {
		for _, c := range []struct {
			name  string
			do    timeline.Work
			share float64
			want  timeline.Tool
		}{
			{"its top layer", timeline.Take, timeline.ShareQuarter, "fingers"},
			{"half of it", timeline.Take, timeline.ShareHalf, "knife_medium"},
			{"all of it", timeline.Strip, 0, "knife_medium"},
			{"strays", timeline.Tidy, 0, "fingers"},
		} {
			if got := toolFor(SessionZone{Zone: z}, c.do, c.share, false); got != c.want {
				t.Errorf("%s, %s: %s is proposed, want %s", z, c.name, got, c.want)
			}
		}
	}
	last := &timeline.ZoneWork{Zone: timeline.Back, Do: timeline.Take, Tool: "knife_fine"}
	if got := toolFor(SessionZone{Zone: timeline.Back, Last: last}, timeline.Take, timeline.ShareQuarter, false); got != "knife_fine" {
		t.Errorf("%s is proposed, though another hand has worked well", got)
	}
}

func TestAToolThatCutTodayIsNotProposedAgainToday(t *testing.T) {
	s, _, _, v := onTheTable(t)
	var zones []timeline.Zone
	tools := map[timeline.Tool]int{}
	for _, l := range must(s.Sheet(ctx, v.ID)).Lines() {
		if l.Pulls() && l.CutWith == "" {
			zones, tools[l.Tool] = append(zones, l.Zone), tools[l.Tool]+1
		}
	}
	// Rubber on the fingers is proposed for the legs; it cuts on the first line, and a second one is worked with it too.
	grip := timeline.Tool("finger_cots")
	if tools[grip] == 0 {
		t.Fatalf("nothing can change: %v", tools)
	}
	for _, z := range zones[:2] {
		a := SheetAnswer{Tool: grip}
		if z == zones[0] {
			a.HairCheck = timeline.HairCut
		}
		var err error
		v, _, err = s.SheetDone(ctx, v.ID, v.Rev, string(z), a)
		ok(err)
	}
	changed := 0
	for _, l := range must(s.Sheet(ctx, v.ID)).Lines() {
		switch {
		case l.Logged != nil:
			if l.CutWith != "" || l.Logged.Tool != grip {
				t.Errorf("%s, which is logged: %+v", l.Zone, l)
			}
		case l.Tool == grip:
			t.Errorf("%s: what cut is proposed again", l.Zone)
		case l.CutWith == grip:
			changed++
		}
	}
	if changed == 0 {
		t.Errorf("no proposal has changed; they were %v", tools)
	}
}
