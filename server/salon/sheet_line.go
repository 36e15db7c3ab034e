package salon

import (
	"context"
	"slices"
	"time"

	"thatch/timeline"
	"thatch/timeline/plan"
)

var noTime time.Time

// answered is the log line of a sheet's line: as planned where the answer says nothing else.
func answered(l SheetLine, a SheetAnswer) timeline.ZoneWork {
	out := timeline.ZoneWork{
		Zone: l.Zone, Do: l.Plan.Do, Share: l.Plan.Share, TopLayer: l.Plan.Top, Tool: l.Tool,
		Ripeness: a.Ripeness, HairCheck: a.HairCheck, Skin: a.Skin, Cover: a.Cover, NewHair: a.NewHair, Remark: a.Remark,
	}
	if a.Do != "" && a.Do != out.Do {
		out.Do, out.Share, out.TopLayer = a.Do, 0, false
		if a.Do == timeline.Leave {
			out.Tool = ""
		}
	}
	if out.Do == timeline.Take && (a.Share > 0 || a.Top) {
		out.Share, out.TopLayer = a.Share, a.Top
	}
	if a.Tool != "" {
		out.Tool = a.Tool
	}
	return out
}

// keepFound keeps what was found in this session before, where the new line says nothing of it.
func keepFound(line *timeline.ZoneWork, was timeline.ZoneWork) {
	if line.Ripeness == "" && was.Ripeness != timeline.NotReady {
		line.Ripeness = was.Ripeness
	}
	if line.HairCheck == "" {
		line.HairCheck = was.HairCheck
	}
	if line.Skin == "" {
		line.Skin = was.Skin
	}
	if line.Cover == "" {
		line.Cover = was.Cover
	}
	if line.NewHair == "" {
		line.NewHair = was.NewHair
	}
	if line.Remark == "" {
		line.Remark = was.Remark
	}
}

func hasLine(v timeline.Session, z timeline.Zone) bool {
	return slices.ContainsFunc(v.Work, func(w timeline.ZoneWork) bool { return w.Zone == z })
}

// takeOut takes the line of a zone out and returns it.
func takeOut(v *timeline.Session, z timeline.Zone) []timeline.ZoneWork {
	i := slices.IndexFunc(v.Work, func(w timeline.ZoneWork) bool { return w.Zone == z })
	if i < 0 {
		return nil
	}
	was := v.Work[i]
	v.Work = slices.Delete(v.Work, i, i+1)
	return []timeline.ZoneWork{was}
}

func tick(v *timeline.Session, code string) {
	if !slices.Contains(v.Sheet.Ticked, code) {
		v.Sheet.Ticked = append(v.Sheet.Ticked, code)
	}
}

// usualOrder is the usual order of the sheet's lines.
func usualOrder(sheet Sheet) []timeline.Zone {
	var lines []plan.Line
	for _, l := range sheet.Lines() {
		lines = append(lines, plan.Line{Zone: l.Zone, Do: l.Plan.Do})
	}
	var out []timeline.Zone
	for _, l := range plan.SheetOrder(lines) {
		out = append(out, l.Zone)
	}
	return out
}

// plannedFor are the plan's own lines of the sheet's day.
func (s *Salon) plannedFor(ctx context.Context, sheet Sheet) ([]plan.Line, *timeline.Fault, error) {
	h, err := s.history(ctx, sheet.Dog)
	if err != nil {
		return nil, nil, err
	}
	p, fault, err := s.plannedOn(h, sheet.On)
	if p == nil || err != nil {
		return nil, fault, err
	}
	return p.Zones, nil, nil
}
