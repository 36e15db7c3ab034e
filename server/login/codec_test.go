package login

import (
	"bytes"
	"reflect"
	"testing"
	"time"

	"github.com/alexedwards/scs/v2"
)

func TestASignInIsReadAsItWasKept(t *testing.T) {
	on := time.Date(2026, 5, 4, 3, 2, 1, 987654321, time.UTC)
	for _, values := range []map[string]any{{}, {personKey: "0123456789abcdef"}, {"a": `"<{`, "": "", "b": "ä\n"}} {
		for name, kept := range map[string]scs.Codec{"now": codec{}, "before": scs.GobCodec{}} {
			b, err := kept.Encode(on, values)
			if err != nil {
				t.Fatal(err)
			}
			deadline, got, err := codec{}.Decode(b)
			if err != nil || !deadline.Equal(on) || !reflect.DeepEqual(got, values) {
				t.Errorf("kept as %s: %v, %v, %v; want %v", name, deadline, got, err, values)
			}
		}
	}
	for _, values := range []map[string]any{{"a": 1}, {"a": "\x8e"}, {"\x8e": "a"}} {
		if b, err := (codec{}).Encode(on, values); err == nil {
			t.Errorf("%v was kept as %s", values, b)
		}
	}
}

// overfull is a sign-in as it was kept before, whose deadline has more nanoseconds than a second has.
func overfull(t testing.TB) []byte {
	t.Helper()
	b, err := scs.GobCodec{}.Encode(time.Unix(1, 0x11223344), map[string]any{})
	if err != nil {
		t.Fatal(err)
	}
	from, to := []byte{0x11, 0x22, 0x33, 0x44}, []byte{0x3f, 0xff, 0xff, 0xff}
	if bytes.Count(b, from) != 1 {
		t.Fatalf("no nanoseconds in %x", b)
	}
	return bytes.Replace(b, from, to, 1)
}

func TestADamagedSignInIsAnError(t *testing.T) {
	for _, b := range []string{"", "{", "{}x", `{"deadline":"never"}`, `{"values":{"a":1}}`, "x", string(overfull(t))} {
		if deadline, values, err := (codec{}).Decode([]byte(b)); err == nil {
			t.Errorf("%q: %v, %v", b, deadline, values)
		}
	}
}

func FuzzAKeptSignIn(f *testing.F) {
	b, _ := codec{}.Encode(time.Unix(1, 0), map[string]any{personKey: "0123456789abcdef"})
	old, _ := scs.GobCodec{}.Encode(time.Unix(1, 0), map[string]any{personKey: "0123456789abcdef"})
	f.Add(b)
	f.Add(old)
	f.Add(overfull(f))
	f.Fuzz(func(t *testing.T, b []byte) {
		deadline, values, err := codec{}.Decode(b)
		if err != nil {
			return
		}
		if again, err := (codec{}).Encode(deadline, values); err == nil {
			if d, v, err := (codec{}).Decode(again); err != nil || !d.Equal(deadline) || !reflect.DeepEqual(v, values) && len(v)+len(values) > 0 {
				t.Errorf("%v, %v, %v; was %v, %v", d, v, err, deadline, values)
			}
		}
	})
}
