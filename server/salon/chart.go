package salon

import (
	"context"
	"fmt"
	"slices"

	"thatch/timeline"
	"thatch/timeline/coat"
	"thatch/timeline/plan"
)

const (
	chartPoints = 72 // enough for a smooth line on a phone, few enough for a page
	chartAhead  = 28 // days shown after today and after the last show
)

// Chart is one zone over time: what the model says of it today, the readings, the wanted lengths, the sessions. Its
// lines are shared by all who ask: nobody writes to them.
func (s *Salon) Chart(ctx context.Context, dog timeline.ID, zone timeline.Zone) (Chart, error) {
	if err := checkZone("zone", zone); err != nil {
		return Chart{}, err
	}
	w, err := s.whole(ctx, dog)
	if err != nil {
		return Chart{}, err
	}
	out := Chart{
		Zone: zone, Today: w.today, Days: []timeline.Day{}, LongestMM: []coat.Dist{}, VisibleMM: []coat.Dist{}, PlannedMM: []coat.Dist{},
		Readings: []timeline.Reading{}, Bands: []ChartBand{}, Sessions: []ChartSession{}, Shows: []timeline.Show{},
	}
	m, err := s.model(w.file)
	if err != nil {
		return out, err
	}
	z := m.Zone(zone)
	if z == nil {
		return out, nil
	}
	out.Status = z.Status()
	worked := map[timeline.Day]bool{}
	first := w.dog.Answers.On
	for _, v := range w.sessions {
		if v.On < first {
			continue
		}
		line := ChartSession{On: v.On, Session: v.ID}
		for _, x := range v.Work {
			if x.Zone == zone {
				line.Do, line.Share, line.Top = x.Do, x.Share, x.TopLayer
			}
		}
		worked[v.On] = line.Do != ""
		out.Sessions = append(out.Sessions, line)
	}
	for _, r := range w.readings {
		if r.Zone == zone && r.On >= first {
			out.Readings = append(out.Readings, r)
		}
	}
	last := w.today + chartAhead
	for _, v := range w.shows {
		if v.On >= first {
			out.Shows = append(out.Shows, v)
			last = max(last, v.On+chartAhead/4)
		}
	}
	steps := stepsOf(w.plan, zone)
	out.Days = chartDays(first, w.today, last, out.Sessions, out.Shows, steps)

	out.PlannedAt, _ = slices.BinarySearch(out.Days, w.today)
	var planned []timeline.Day
	if w.plan != nil {
		planned = out.Days[out.PlannedAt:]
	}
	lines, err := s.linesOf(m, zone, out.Days, planned, worked, steps)
	if err != nil {
		return out, err
	}
	out.LongestMM, out.VisibleMM, out.PlannedMM = lines.longestMM, lines.visibleMM, lines.plannedMM
	out.Bands = w.chartBands(zone, first, last)
	return out, nil
}

// chartLines are the lines of a chart: of Days, the planned one of its last days.
type chartLines struct{ longestMM, visibleMM, plannedMM []coat.Dist }

// linesOf are kept by all that they come from: a dozen lines that are logged one by one change one zone's chart once, and a
// plan that is made anew for another zone's sake changes only what is planned.
func (s *Salon) linesOf(m *coat.Model, zone timeline.Zone, days, planned []timeline.Day, worked map[timeline.Day]bool, steps []coat.Step) (chartLines, error) {
	z := m.Zone(zone)
	known := func() (chartLines, error) {
		out := chartLines{longestMM: make([]coat.Dist, len(days)), visibleMM: make([]coat.Dist, len(days))}
		for i, on := range days {
			// On a session day the line shows what the ruler met; what was left shows on the day after.
			f := z.LengthsEnd(on)
			if worked[on] {
				f = z.LengthsStart(on)
			}
			out.longestMM[i], out.visibleMM[i] = f.LongestMM, f.VisibleMM
		}
		return out, nil
	}
	ahead := func() (chartLines, error) {
		out := chartLines{plannedMM: make([]coat.Dist, len(planned))}
		for i, on := range planned {
			before := slices.DeleteFunc(slices.Clone(steps), func(st coat.Step) bool { return st.On >= on })
			out.plannedMM[i] = z.LengthsAfter(before, on).VisibleMM
		}
		return out, nil
	}
	kept := s.charts.get
	key := m.KeyOf(zone)
	if key == "" {
		kept = func(_ string, draw func() (chartLines, error)) (chartLines, error) { return draw() }
	}
	out, err := kept(fmt.Sprint("known ", key, days, worked), known)
	if err != nil {
		return out, err
	}
	plan, err := kept(fmt.Sprint("ahead ", key, planned, steps), ahead)
	out.plannedMM = plan.plannedMM
	return out, err
}

func stepsOf(p *plan.Plan, zone timeline.Zone) []coat.Step {
	var out []coat.Step
	if p == nil {
		return nil
	}
	for _, v := range p.Sessions {
		for _, l := range v.Zones {
			if l.Zone == zone && l.Do != timeline.Leave {
				out = append(out, coat.Step{On: v.On, Do: l.Do, Share: l.Share})
			}
		}
	}
	return out
}

// chartDays are evenly spread days, with today, every show, and every session with the day after it.
func chartDays(first, today, last timeline.Day, sessions []ChartSession, shows []timeline.Show, steps []coat.Step) []timeline.Day {
	step := max(1, int(last-first)/chartPoints)
	days := []timeline.Day{today, last}
	for d := first; d <= last; d += timeline.Day(step) {
		days = append(days, d)
	}
	for _, v := range sessions {
		days = append(days, v.On, v.On+1)
	}
	for _, v := range shows {
		days = append(days, v.On)
	}
	for _, v := range steps {
		days = append(days, v.On, v.On+1)
	}
	slices.Sort(days)
	days = slices.Compact(days)
	return slices.DeleteFunc(days, func(d timeline.Day) bool { return d < first || d > last })
}

// chartBands are the wanted lengths: up to each show what it asks, after the last what is usual.
func (h history) chartBands(zone timeline.Zone, first, last timeline.Day) []ChartBand {
	out := []ChartBand{}
	from := first
	add := func(to timeline.Day, v timeline.Show) {
		if t := h.target(zone, to); t != nil && from <= to {
			out = append(out, ChartBand{From: from, To: to, Show: v, Target: *t})
		}
		from = to + 1
	}
	for _, v := range h.shows {
		if v.On >= first && v.On <= last {
			add(v.On, v)
		}
	}
	if from <= last {
		add(last, timeline.Show{})
	}
	return out
}
