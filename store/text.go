package store

import (
	"crypto/rand"
	"database/sql"
	"encoding/json"
	"fmt"
	"strings"
	"time"

	"golang.org/x/text/cases"
	"golang.org/x/text/unicode/norm"

	tl "thatch/timeline"
)

// crockford is Douglas Crockford's base 32 in lower case: no i, l, o, u, so an ID read aloud is not misheard.
const crockford = "0123456789abcdefghjkmnpqrstvwxyz"

// newID is 80 random bits.
func newID() tl.ID {
	var b [16]byte
	rand.Read(b[:]) // never fails (crypto/rand, Go 1.24)
	for i := range b {
		b[i] = crockford[b[i]&31]
	}
	return tl.ID(b[:])
}

// nameKey is how a name is looked up: one Unicode form, one case, one space between words.
func nameKey(name string) string {
	return cases.Fold().String(norm.NFC.String(strings.Join(strings.Fields(name), " ")))
}

const stampLayout = "2006-01-02T15:04:05.000Z"

func stamp(t time.Time) string { return t.UTC().Format(stampLayout) }

// nullStamp is NULL for the zero time.
func nullStamp(t time.Time) any {
	if t.IsZero() {
		return nil
	}
	return stamp(t)
}

// at scans an instant; NULL is the zero time.
type at struct{ t *time.Time }

func (a at) Scan(v any) error {
	switch v := v.(type) {
	case nil:
		*a.t = time.Time{}
		return nil
	case string:
		t, err := time.Parse(stampLayout, v)
		*a.t = t
		return err
	}
	return fmt.Errorf("an instant is text, not %T", v)
}

// onDay scans a civil day; empty text is no day.
type onDay struct{ d *tl.Day }

func (o onDay) Scan(v any) error {
	s, ok := v.(string)
	if !ok {
		return fmt.Errorf("a day is text, not %T", v)
	}
	if s == "" {
		*o.d = 0
		return nil
	}
	d, err := tl.ParseDay(s)
	*o.d = d
	return err
}

// orNull is NULL for empty text.
func orNull[T ~string](v T) any {
	if v == "" {
		return nil
	}
	return string(v)
}

// maybe scans text that may be NULL into any string type.
type maybe[T ~string] struct{ v *T }

func (m maybe[T]) Scan(v any) error {
	var n sql.NullString
	err := n.Scan(v)
	*m.v = T(n.String)
	return err
}

// inJSON scans a JSON column.
type inJSON struct{ v any }

func (j inJSON) Scan(v any) error {
	s, ok := v.(string)
	if !ok {
		return fmt.Errorf("a JSON column is text, not %T", v)
	}
	return json.Unmarshal([]byte(s), j.v)
}

// asJSON writes a JSON column. What the store writes there always marshals: lists of names and moments.
func asJSON(v any) string {
	b, err := json.Marshal(v)
	if err != nil {
		panic(err)
	}
	return string(b)
}
