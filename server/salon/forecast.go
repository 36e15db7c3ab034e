package salon

import (
	"context"
	"fmt"

	"thatch/timeline"
	"thatch/timeline/coat"
	"thatch/timeline/plan"
)

// model is the coat model of a file, kept by the file's content.
func (s *Salon) model(f coat.File) (*coat.Model, error) { return s.modelOf(f, true) }

func (s *Salon) modelOf(f coat.File, keep bool) (*coat.Model, error) {
	return s.models.get(keyOf(f), func() (*coat.Model, error) { return coat.NewWith(f, s.lessons, keep) })
}

// forecastOf is the forecast of a day from a file: of its start, before any work, or of its end.
func (s *Salon) forecastOf(f coat.File, on timeline.Day, start bool) (coat.Forecast, error) {
	f.Shows, f.Sessions = nil, nil // what is wanted does not change what grows
	return s.forecasts.get(fmt.Sprintf("%s %d %t", keyOf(f), on, start), func() (coat.Forecast, error) {
		m, err := s.modelOf(f, false)
		if err != nil {
			return coat.Forecast{}, err
		}
		if start {
			return m.ForecastStart(on), nil
		}
		return m.Forecast(on), nil
	})
}

// Forecast is what to expect at the end of a day, from all that is known today, readiness against the first show on or
// after that day. A day before the dog's first answers is refused.
func (s *Salon) Forecast(ctx context.Context, dog timeline.ID, on timeline.Day) (coat.Forecast, error) {
	d, err := s.Dog(ctx, dog)
	if err != nil {
		return coat.Forecast{}, err
	}
	h, err := s.history(ctx, d)
	if err != nil {
		return coat.Forecast{}, err
	}
	if on.IsZero() {
		return coat.Forecast{}, invalid("on", "fault.forecast.no_day")
	}
	if !h.known(on) {
		return coat.Forecast{}, invalid("on", "fault.forecast.before", "on", on, "first", d.Answers.On)
	}
	if on > h.today+maxForecastDays {
		return coat.Forecast{}, invalid("on", "fault.forecast.far", "on", on, "last", h.today+maxForecastDays)
	}
	return s.forecastWithReadiness(h, on)
}

// maxForecastDays ahead every zone has long reached its full length.
const maxForecastDays = 5 * 366

func (s *Salon) forecastWithReadiness(h history, on timeline.Day) (coat.Forecast, error) {
	m, err := s.model(h.file(h.today, h.today+1))
	if err != nil {
		return coat.Forecast{}, err
	}
	return m.Forecast(on), nil
}

// expected is what was expected of the start of a day from what was known before it, so that a reading of the day is a
// true test of the forecast; ok is false where nothing was known yet.
func (s *Salon) expected(h history, on timeline.Day) (f coat.Forecast, ok bool, err error) {
	if !h.known(on) {
		return coat.Forecast{}, false, nil
	}
	f, err = s.forecastOf(h.file(on, on), on, true)
	return f, err == nil, err
}

// expectedAfter is what is expected of the end of a day: its work is known, its readings too.
func (s *Salon) expectedAfter(h history, on timeline.Day) (f coat.Forecast, ok bool, err error) {
	if !h.known(on) {
		return coat.Forecast{}, false, nil
	}
	f, err = s.forecastOf(h.file(on, on+1), on, false)
	return f, err == nil, err
}

func (s *Salon) forecastBefore(ctx context.Context, d timeline.Dog, on timeline.Day) (coat.Forecast, bool, error) {
	h, err := s.history(ctx, d)
	if err != nil {
		return coat.Forecast{}, false, err
	}
	return s.expected(h, on)
}

// topLayer is the share of the layer that is longest at the start of the day.
func (s *Salon) topLayer(ctx context.Context, d timeline.Dog, z timeline.Zone, on timeline.Day) (float64, error) {
	h, err := s.history(ctx, d)
	if err != nil {
		return 0, err
	}
	if !h.known(on) {
		return 0, invalid("on", "fault.forecast.before", "on", on, "first", d.Answers.On)
	}
	f := h.file(on, on)
	f.Shows, f.Sessions = nil, nil
	m, err := s.model(f)
	if err != nil {
		return 0, err
	}
	zone := m.Zone(z)
	if zone == nil {
		return 0, invalid("zone", "fault.zone.unknown", "text", string(z), "zones", codes(timeline.Zones()))
	}
	_, share := zone.TopLayer(nil, on)
	return share, nil
}

// Plan plans back from the dog's shows. Without a show to come, or a session before it, it is Invalid and says so.
func (s *Salon) Plan(ctx context.Context, dog timeline.ID) (plan.Plan, error) {
	d, err := s.Dog(ctx, dog)
	if err != nil {
		return plan.Plan{}, err
	}
	h, err := s.history(ctx, d)
	if err != nil {
		return plan.Plan{}, err
	}
	f := h.file(h.today, h.today+1)
	return s.planOf(f, h.shortFirst(f))
}

// planOf plans a file, its first session with only so many minutes where short is not 0.
func (s *Salon) planOf(f coat.File, short float64) (plan.Plan, error) {
	return s.planWith(f, short, true)
}

// planWith is planOf; what is learned of a coat as it was is not worth keeping, it would push out what is known of another dog.
func (s *Salon) planWith(f coat.File, short float64, keep bool) (plan.Plan, error) {
	if len(f.Shows) > 0 && f.Sessions == nil {
		return plan.Plan{}, invalid("next", "fault.show.no_session_before")
	}
	return s.plans.get(fmt.Sprint(keyOf(f), " ", short), func() (plan.Plan, error) {
		m, err := s.modelOf(f, keep)
		if err != nil {
			return plan.Plan{}, err
		}
		return plan.MakeOf(f, m, short)
	})
}
