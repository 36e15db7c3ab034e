package timeline

import (
	"encoding/json"
	"fmt"
	"time"
)

// Day is a civil day of the salon's calendar. The zero Day means "no day"; otherwise Day n is 1999-12-31 plus n days,
// so days subtract and compare as integers. Valid days lie in the years 1900 to 2199, except the zero day itself.
type Day int32

var dayEpoch = time.Date(1999, 12, 31, 0, 0, 0, 0, time.UTC)

// DayOf is the civil day of t in t's own location: the caller chooses the location, time.Local never decides.
func DayOf(t time.Time) Day {
	y, m, d := t.Date()
	return Date(y, m, d)
}

// Date is the civil day y-m-d.
func Date(y int, m time.Month, d int) Day {
	// Unix seconds, not Duration: a Duration overflows after 292 years.
	return Day((time.Date(y, m, d, 0, 0, 0, 0, time.UTC).Unix() - dayEpoch.Unix()) / 86400)
}

// ParseDay reads YYYY-MM-DD of the years 1900 to 2199.
func ParseDay(s string) (Day, error) {
	t, err := time.Parse(time.DateOnly, s)
	if err != nil {
		return 0, fmt.Errorf("%q is not a day written as YYYY-MM-DD", s)
	}
	if t.Year() < 1900 || t.Year() > 2199 {
		return 0, fmt.Errorf("%q lies outside the years 1900 to 2199", s)
	}
	return DayOf(t), nil
}

// IsZero reports whether there is no day.
func (d Day) IsZero() bool { return d == 0 }

// Time is midnight UTC of the day, for formatting only.
func (d Day) Time() time.Time { return dayEpoch.AddDate(0, 0, int(d)) }

// T is the model's time: days since 2000-01-01.
func (d Day) T() float64 { return float64(d) - 1 }

// String writes YYYY-MM-DD, or "" for no day.
func (d Day) String() string {
	if d == 0 {
		return ""
	}
	return d.Time().Format(time.DateOnly)
}

// MarshalJSON writes "YYYY-MM-DD", or null for no day.
func (d Day) MarshalJSON() ([]byte, error) {
	if d == 0 {
		return []byte("null"), nil
	}
	return json.Marshal(d.String())
}

// UnmarshalJSON reads "YYYY-MM-DD" or null.
func (d *Day) UnmarshalJSON(b []byte) error {
	if string(b) == "null" {
		*d = 0
		return nil
	}
	var s string
	if err := json.Unmarshal(b, &s); err != nil {
		return fmt.Errorf("a day is written as \"YYYY-MM-DD\"")
	}
	v, err := ParseDay(s)
	if err != nil {
		return err
	}
	*d = v
	return nil
}

// MarshalText and UnmarshalText let a Day be the key of a JSON object and a flag.
func (d Day) MarshalText() ([]byte, error) { return []byte(d.String()), nil }

// UnmarshalText reads YYYY-MM-DD.
func (d *Day) UnmarshalText(b []byte) error {
	v, err := ParseDay(string(b))
	*d = v
	return err
}
