package store

import "context"

var (
	selectSettings = query(`SELECT rev, salon_name, zone, units, lang, theme, hour_cents, currency FROM settings WHERE one = 1`)
	updateSettings = query(`UPDATE settings SET rev = rev + 1, salon_name = ?, zone = ?, units = ?, lang = ?, theme = ?, hour_cents = ?, currency = ? WHERE one = 1 AND rev = ?`)
)

// Settings are never absent.
func (s *Store) Settings(ctx context.Context) (Settings, error) {
	var v Settings
	err := s.readOne(ctx, "settings", func(t tx) (err error) { v, err = settings(t); return })
	return v, err
}

func settings(t tx) (v Settings, err error) {
	err = t.row(selectSettings).Scan(&v.Rev, &v.SalonName, &v.Zone, &v.Units, &v.Lang, &v.Theme, &v.HourCents, &v.Currency)
	return
}

// SaveSettings changes all fields.
func (s *Store) SaveSettings(ctx context.Context, v Settings) (Settings, error) {
	err := s.write(ctx, "save settings", func(t tx) error {
		n, err := t.exec(updateSettings, v.SalonName, v.Zone, v.Units, v.Lang, v.Theme, v.HourCents, v.Currency, v.Rev)
		if err == nil && n == 0 {
			return changedMeanwhile()
		}
		return err
	})
	if err != nil {
		return Settings{}, err
	}
	v.Rev++
	return v, nil
}
