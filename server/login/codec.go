package login

import (
	"bytes"
	"encoding/json"
	"fmt"
	"time"
	"unicode/utf8"

	"github.com/alexedwards/scs/v2"
)

// codec is how a sign-in is kept: as JSON. The library's own way reads a description of the types with every request, which
// took longer than to find the sign-in. What was kept so before is still read; none of it lives longer than longestTime.
type codec struct{ old scs.GobCodec }

type keptSignIn struct {
	Deadline time.Time         `json:"deadline"`
	Values   map[string]string `json:"values"`
}

// Encode takes texts only: nothing else is put into a sign-in. What JSON could not give back is refused.
func (codec) Encode(deadline time.Time, values map[string]any) ([]byte, error) {
	v := keptSignIn{deadline, make(map[string]string, len(values))}
	for key, value := range values {
		text, ok := value.(string)
		if !ok || !utf8.ValidString(key) || !utf8.ValidString(text) {
			return nil, fmt.Errorf("sign-in: %s is no text", key)
		}
		v.Values[key] = text
	}
	return json.Marshal(v)
}

func (c codec) Decode(b []byte) (time.Time, map[string]any, error) {
	if !bytes.HasPrefix(b, []byte("{")) {
		deadline, values, err := c.old.Decode(b)
		// The standard library takes a time of a second and more nanoseconds as it comes, and such a one compares wrongly.
		if err == nil && deadline.Nanosecond() >= int(time.Second) {
			err = fmt.Errorf("sign-in: %d nanoseconds", deadline.Nanosecond())
		}
		if err != nil {
			return time.Time{}, nil, err
		}
		return deadline, values, nil
	}
	var v keptSignIn
	if err := json.Unmarshal(b, &v); err != nil {
		return time.Time{}, nil, fmt.Errorf("sign-in: %w", err)
	}
	values := make(map[string]any, len(v.Values))
	for key, text := range v.Values {
		values[key] = text
	}
	return v.Deadline, values, nil
}
