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
		h := t.worst(c)
		o.Show = t.shows[h].on
		o.Next = verdictOf(t.readyAt(c, slices.Index(z.banded, true)))
		if o.Verdict == TooLate {
			p.Feasible = false
			if verdictOf(best) == TooLate {
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
		return late[a][0].Order() - late[b][0].Order()
	})
	dates := map[int][]verdictAt{}
	for _, k := range keys {
		if k.sure {
			dates[k.show] = append(dates[k.show], k)
		}
	}
	for _, k := range keys {
		s := t.shows[k.show]
		switch all := dates[k.show]; {
		case k.by.IsZero():
			var flat, other []timeline.Zone
			for _, name := range late[k] {
				if t.zoneNamed(name).flatBy > 0 {
					flat = append(flat, name)
				} else {
					other = append(other, name)
				}
			}
			if len(flat) > 0 {
				out = append(out, timeline.Say("warn.plan.never.flat", "zones", flat, "show", s.name, "days", t.zoneNamed(flat[0]).flatBy))
			}
			if len(other) > 0 {
				out = append(out, timeline.Say("warn.plan.never", "zones", other, "show", s.name))
			}
		case !k.sure:
			out = append(out, timeline.Say("warn.plan.maybe_by", "zones", late[k], "show", s.name, "by", k.by))
		case len(all) > tellDays:
			// So many days are not read one by one; each stands with its zone.
			if k == all[0] {
				var zones []timeline.Zone
				for _, other := range all {
					zones = append(zones, late[other]...)
				}
				slices.SortFunc(zones, func(a, b timeline.Zone) int { return a.Order() - b.Order() })
				out = append(out, timeline.Say("warn.plan.too_late.range", "zones", zones, "show", s.name, "from", k.by, "by", all[len(all)-1].by))
			}
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

func (t *task) zoneNamed(name timeline.Zone) *zone {
	return t.zones[slices.IndexFunc(t.zones, func(z *zone) bool { return z.name == name })]
}

// worst is the show at which the zone is least ready.
func (t *task) worst(c course) int {
	worst, least := 0, 2.0
	for h := range t.shows {
		if !c.z.banded[h] {
			continue
		}
		if r := t.readyAt(c, h); r < least {
			worst, least = h, r
		}
	}
	return worst
}

// readyAt is how ready the zone is at show h.
func (t *task) readyAt(c course, h int) float64 {
	s := t.shows[h]
	at := s.before + 1
	return c.z.ready(h, s.on, c.z.targets[h], c.steps[at], c.lads[at])
}
