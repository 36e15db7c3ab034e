package salon

import (
	"context"
	"time"
	_ "time/tzdata" // the salon's zone must load on a machine without a zone database

	"thatch/store"
	"thatch/timeline"
	"thatch/web/words"
)

// A price beyond this is a slip of the finger, in any currency that is counted in hundreds.
const (
	maxHourCents     = 1_000_000_00
	maxCurrencyRunes = 8
)

type settingsKey struct{}

// WithSettings gives the use cases under ctx the settings that were read already, for one request.
func WithSettings(ctx context.Context, v store.Settings) context.Context {
	return context.WithValue(ctx, settingsKey{}, v)
}

// Settings are the salon's.
func (s *Salon) Settings(ctx context.Context) (store.Settings, error) {
	if v, ok := ctx.Value(settingsKey{}).(store.Settings); ok {
		return v, nil
	}
	return s.st.Settings(ctx)
}

// SaveSettings checks and keeps them; Rev is checked.
func (s *Salon) SaveSettings(ctx context.Context, v store.Settings) (store.Settings, error) {
	var err error
	if v.SalonName, err = cleanLine("salon_name", v.SalonName, maxNameRunes); err != nil {
		return v, err
	}
	if _, err := zoneOf(v); err != nil {
		return v, err
	}
	if err := checkWord("units", v.Units, []string{"mm", "in"}); err != nil {
		return v, err
	}
	if err := checkWordOrUnsaid("lang", v.Lang, words.Langs()); err != nil {
		return v, err
	}
	if err := checkWordOrUnsaid("theme", v.Theme, []string{"light", "dark"}); err != nil {
		return v, err
	}
	if v.Currency, err = cleanLine("currency", v.Currency, maxCurrencyRunes); err != nil {
		return v, err
	}
	if v.HourCents < 0 || v.HourCents > maxHourCents {
		return v, invalid("price_hour", "fault.settings.price")
	}
	return s.st.SaveSettings(ctx, v)
}

// zoneOf is the zone of the settings. "Local" is refused: the machine's own zone never decides a date.
func zoneOf(v store.Settings) (*time.Location, error) {
	if v.Zone == "" {
		return time.UTC, nil
	}
	zone, err := time.LoadLocation(v.Zone)
	if err != nil || v.Zone == "Local" {
		return nil, timeline.NewFault(timeline.Invalid, "fault.settings.zone", "text", clip(v.Zone, 40)).In("zone").Because(err)
	}
	return zone, nil
}
