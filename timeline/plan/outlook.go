package plan

import (
	"slices"

	"thatch/timeline"
	"thatch/timeline/coat"
)

func stepOf(on timeline.Day, c choice) coat.Step {
	return coat.Step{On: on, Do: c.work(), Share: c.share}
}

// outlooks fills the plan's zones and says what is not possible and when it would be.
func (t *task) outlooks(p *Plan, f found, courses []course) []timeline.Phrase {
	type verdictAt struct {
		show int
		by   timeline.Day
		sure bool
	}
	late := map[verdictAt][]timeline.Zone{}
	var short, between []timeline.Zone
	for i, c := range courses {
		z := c.z
		steps := c.steps[len(t.sessions)]
		o := ZoneOutlook{VisibleMM: z.model.Forecast(steps, t.shows[0].on, z.targets[0]).VisibleMM}
		if !z.hasBand {
			p.Zones[z.name] = o
			continue
		}
		r, best := f.picked[i].ready, f.options[i].best
		o.Readiness, o.BestAlone, o.Verdict = &r, &best, verdictOf(r)
		if o.Verdict == TooLate {
			p.Feasible = false
			if verdictOf(best) == TooLate {
				h := t.worst(c)
				by, sure := t.readyBy(z, h)
				o.ReadyBy = by
				at := verdictAt{h, by, sure}
				late[at] = append(late[at], z.name)
			}
		}
		if o.Verdict != verdictOf(best) {
			short = append(short, z.name)
		}
		for k, hd := range z.hold {
			at := hd.session + 1
			if r >= usual.TightFrom.Value && z.ready(-1-k, hd.on, z.targets[hd.show], c.steps[at], c.lads[at]) < usual.TightFrom.Value {
				between = append(between, z.name)
				break
			}
		}
		p.Zones[z.name] = o
	}
	var out []timeline.Phrase
	keys := make([]verdictAt, 0, len(late))
	for k := range late {
		keys = append(keys, k)
	}
	slices.SortFunc(keys, func(a, b verdictAt) int {
		if a.show != b.show {
			return a.show - b.show
		}
		if a.by != b.by {
			return int(a.by - b.by)
		}
		return slices.Index(timeline.Zones(), late[a][0]) - slices.Index(timeline.Zones(), late[b][0])
	})
	for _, k := range keys {
		s := t.shows[k.show]
		switch {
		case k.by.IsZero():
			out = append(out, timeline.Say("warn.plan.never", "zones", late[k], "show", s.name))
		case !k.sure:
			out = append(out, timeline.Say("warn.plan.maybe_by", "zones", late[k], "show", s.name, "by", k.by))
		default:
			out = append(out, timeline.Say("warn.plan.too_late", "zones", late[k], "show", s.name, "by", k.by))
		}
	}
	if len(short) > 0 {
		out = append(out, timeline.Say("warn.plan.minutes", "zones", short))
	}
	if len(between) > 0 {
		out = append(out, timeline.Say("warn.plan.between", "zones", between))
	}
	return out
}

// worst is the show at which the zone is least ready.
func (t *task) worst(c course) int {
	worst, least := 0, 2.0
	for h, s := range t.shows {
		if !c.z.banded[h] {
			continue
		}
		at := s.before + 1
		if r := c.z.ready(h, s.on, c.z.targets[h], c.steps[at], c.lads[at]); r < least {
			worst, least = h, r
		}
	}
	return worst
}
