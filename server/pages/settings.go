package pages

import (
	"net/http"
	"strconv"
	"strings"

	"thatch/server/salon"
	"thatch/store"
	"thatch/timeline"
	"thatch/web/words"
)

type settingsPage struct {
	frame
	Settings store.Settings
	Form     form
	Zones    []string
	Backups  salon.BackupState
	Peopled  bool // there are accounts
}

// Took is how long a backup took.
func (p settingsPage) Took(r *store.BackupRun) timeline.Phrase {
	if s := int(r.Ended.Sub(r.Begun).Seconds()); s < 90 {
		return timeline.Say("settings.backup.seconds", "n", max(s, 1))
	}
	return timeline.Say("settings.backup.minutes", "n", int(r.Ended.Sub(r.Begun).Minutes()+0.5))
}

var settingsView = declare[settingsPage]("settings")

// commonZones are offered while typing; any IANA name is taken.
var commonZones = []string{
	"UTC", "Africa/Johannesburg", "America/Chicago", "America/Denver", "America/Los_Angeles", "America/New_York", "America/Sao_Paulo", "America/Toronto",
	"Asia/Tokyo", "Australia/Brisbane", "Australia/Perth", "Australia/Sydney", "Europe/Amsterdam", "Europe/Athens", "Europe/Berlin", "Europe/Copenhagen",
	"Europe/Dublin", "Europe/Helsinki", "Europe/Lisbon", "Europe/London", "Europe/Madrid", "Europe/Oslo", "Europe/Paris", "Europe/Prague", "Europe/Rome",
	"Europe/Stockholm", "Europe/Vienna", "Europe/Warsaw", "Europe/Zurich", "Pacific/Auckland",
}

func (s *Site) settings(w http.ResponseWriter, r *http.Request) error {
	set, err := s.salon.Settings(r.Context())
	if err != nil {
		return err
	}
	units := set.Units
	if units == "" {
		units = string(words.Millimetres)
	}
	return s.showSettings(w, r, 0, form{Values: map[string][]string{
		"salon_name": {set.SalonName}, "zone": {set.Zone}, "units": {units}, "lang": {set.Lang}, "rev": {asText(int(set.Rev))},
		"price_hour": {money(set.HourCents, "")}, "currency": {set.Currency},
	}})
}

func (s *Site) showSettings(w http.ResponseWriter, r *http.Request, code int, f form) error {
	state, err := s.salon.Backups(r.Context())
	if err != nil {
		return err
	}
	peopled, err := s.salon.AnyPerson(r.Context())
	if err != nil {
		return err
	}
	return settingsView.show(s, w, r, settingsPage{frame: frame{Status: code, Tab: "settings"}, Peopled: peopled, Settings: visitOf(r).settings, Form: f, Zones: commonZones, Backups: state})
}

// priceOf reads a price into hundredths; empty is none.
func priceOf(text string) (int, error) {
	if text == "" {
		return 0, nil
	}
	whole, part, has := strings.Cut(strings.Replace(text, ",", ".", 1), ".")
	for has && len(part) < 2 {
		part += "0"
	}
	n, err := strconv.Atoi(whole + part)
	if err != nil || n < 0 || strings.ContainsAny(text, "+-") || has && len(part) > 2 || whole == "" || len(text) > 12 {
		return 0, timeline.NewFault(timeline.Invalid, "fault.settings.price").In("price_hour")
	}
	if !has {
		n *= 100
	}
	return n, nil
}

func (s *Site) saveSettings(w http.ResponseWriter, r *http.Request) error {
	f, err := readForm(w, r)
	if err != nil {
		return err
	}
	set, err := s.salon.Settings(r.Context())
	if err != nil {
		return err
	}
	set.SalonName, set.Zone, set.Units, set.Lang = f.text("salon_name"), f.text("zone"), f.Get("units"), f.Get("lang")
	set.Currency = f.text("currency")
	if set.Rev, err = f.rev(); err == nil {
		set.HourCents, err = priceOf(f.text("price_hour"))
	}
	if err == nil {
		_, err = s.salon.SaveSettings(r.Context(), set)
	}
	if err != nil {
		return f.again(err, func(code int) error { return s.showSettings(w, r, code, f) })
	}
	sayNext(w, r, "settings.saved", "", "")
	return seeOther(w, r, "/settings")
}
