package salon

import (
	"context"
	"math"
	"slices"

	"thatch/timeline"
	"thatch/timeline/coat"
)

// AddShow keeps a show that is still to come. Priority 0 means 1, matters most.
func (s *Salon) AddShow(ctx context.Context, v timeline.Show) (timeline.Show, error) {
	d, err := s.Dog(ctx, v.Dog)
	if err != nil {
		return v, err
	}
	if err := s.checkShow(ctx, d, &v, 0); err != nil {
		return v, err
	}
	return s.st.CreateShow(ctx, v)
}

// UpdateShow replaces a show with its targets; Rev is checked. A show that has been may keep its day, not be moved into
// the past.
func (s *Salon) UpdateShow(ctx context.Context, v timeline.Show) (timeline.Show, error) {
	old, err := s.show(ctx, v.ID)
	if err != nil {
		return v, err
	}
	d, err := s.Dog(ctx, old.Dog)
	if err != nil {
		return v, err
	}
	v.Dog = old.Dog
	if err := s.checkShow(ctx, d, &v, old.On); err != nil {
		return v, err
	}
	return s.st.UpdateShow(ctx, v)
}

// Shows of a dog by day, those that have been too.
func (s *Salon) Shows(ctx context.Context, dog timeline.ID) ([]timeline.Show, error) {
	return s.st.Shows(ctx, dog)
}

// TrashShow puts a show aside.
func (s *Salon) TrashShow(ctx context.Context, id timeline.ID) error { return s.st.TrashShow(ctx, id) }

// RestoreShow brings it back.
func (s *Salon) RestoreShow(ctx context.Context, id timeline.ID) error {
	return s.st.RestoreShow(ctx, id)
}

func (s *Salon) show(ctx context.Context, id timeline.ID) (timeline.Show, error) {
	v, err := s.st.Show(ctx, id)
	if err == nil && !v.Trashed.IsZero() {
		return v, notFound("show " + string(id))
	}
	return v, err
}

func (s *Salon) checkShow(ctx context.Context, d timeline.Dog, v *timeline.Show, oldOn timeline.Day) error {
	today, err := s.Today(ctx)
	if err != nil {
		return err
	}
	if v.Name, err = cleanLine("name", v.Name, maxNameRunes); err != nil {
		return err
	}
	if v.Name == "" {
		return invalid("name", "fault.show.name_empty")
	}
	switch {
	case v.On.IsZero():
		return invalid("on", "fault.show.no_day")
	case v.On < today && v.On != oldOn:
		return invalid("on", "fault.show.past", "on", v.On, "today", today)
	case int(v.On-today) > maxShowDaysAway:
		return invalid("on", "fault.show.far", "on", v.On)
	}
	if v.Priority == 0 {
		v.Priority = 1
	}
	if v.Priority < 1 || v.Priority > 3 {
		return invalid("priority", "fault.show.priority")
	}
	profile, _, err := s.profileOf(ctx, d.Profile)
	if err != nil {
		return err
	}
	zones := make([]timeline.Zone, 0, len(v.Targets))
	for z := range v.Targets {
		zones = append(zones, z)
	}
	slices.SortFunc(zones, func(a, b timeline.Zone) int { return a.Order() - b.Order() })
	for _, z := range zones {
		if err := checkTarget(z, v.Targets[z], profile); err != nil {
			return err
		}
	}
	return nil
}

// checkTarget lets a wanted length reach what the hair of the zone reaches on average, whatever the profile's own target.
func checkTarget(z timeline.Zone, t timeline.Range, p coat.Profile) error {
	field := "targets." + string(z)
	if err := checkZone(field, z); err != nil {
		return err
	}
	most := p.Zones[z].LengthMaxMM.Mean
	if math.IsNaN(t.MinMM) || math.IsNaN(t.MaxMM) || t.MinMM < 0 || t.MaxMM < 0 {
		return invalid(field, "fault.show.target_range", "zone", z)
	}
	if t.MaxMM != 0 && t.MinMM > t.MaxMM {
		return invalid(field, "fault.show.target_order", "zone", z, "min", timeline.LengthMM(t.MinMM), "max", timeline.LengthMM(t.MaxMM))
	}
	if most > 0 && max(t.MinMM, t.MaxMM) > most {
		return invalid(field, "fault.show.target_reach", "zone", z, "most", timeline.LengthMM(most))
	}
	if t.MinMM == 0 && t.MaxMM == 0 {
		return invalid(field, "fault.show.target_range", "zone", z)
	}
	return nil
}

// Show is a show that is not in the trash.
func (s *Salon) Show(ctx context.Context, id timeline.ID) (timeline.Show, error) {
	return s.show(ctx, id)
}

// UsualTargets are the lengths that the dog's kind of coat is usually kept at; zones without a band are left out.
func (s *Salon) UsualTargets(ctx context.Context, dog timeline.ID) (map[timeline.Zone]*TargetMM, error) {
	d, err := s.Dog(ctx, dog)
	if err != nil {
		return nil, err
	}
	p, _, err := s.profileOf(ctx, d.Profile)
	if err != nil {
		return nil, err
	}
	out := map[timeline.Zone]*TargetMM{}
	for z, zp := range p.Zones {
		if t := zp.Target; t != nil && (t.MinMM > 0 || t.MaxMM > 0) {
			out[z] = &TargetMM{Min: t.MinMM}
			if t.MaxMM > 0 {
				most := t.MaxMM
				out[z].Max = &most
			}
		}
	}
	return out, nil
}
