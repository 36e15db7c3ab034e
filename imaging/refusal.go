package imaging

import (
	"errors"
	"fmt"
	"sort"
	"strings"
)

// Codes of refusal. Each has its sentence in the message catalogue under "fault.photo.<code>".
const (
	CodeEmpty             = "empty"              // no bytes
	CodeNotAPhoto         = "not_a_photo"        // no magic that is known
	CodeFormatUnsupported = "format_unsupported" // a picture of a kind that is not taken; args: format
	CodeTooLargePX        = "too_large_px"       // args: width_px, height_px, max_mp, max_side_px
	CodeTooLargeBytes     = "too_large_bytes"    // args: mb, max_mb
	CodeTruncated         = "truncated"          // the file ends before its picture does
	CodeDamaged           = "damaged"            // the picture cannot be decoded
	CodeUnreadable        = "unreadable"         // our own trouble reading the bytes
)

// Refusal says why a file is not taken. Args are plain numbers and strings for the sentence.
type Refusal struct {
	Code  string
	Args  map[string]any
	Cause error // for the log
}

func (r *Refusal) Error() string {
	var parts []string
	for k, v := range r.Args {
		parts = append(parts, fmt.Sprintf("%s=%v", k, v))
	}
	sort.Strings(parts)
	s := "imaging: " + r.Code
	if len(parts) > 0 {
		s += " (" + strings.Join(parts, ", ") + ")"
	}
	if r.Cause != nil {
		s += ": " + r.Cause.Error()
	}
	return s
}

func (r *Refusal) Unwrap() error { return r.Cause }

// AsRefusal finds the Refusal in an error, or nil.
func AsRefusal(err error) *Refusal {
	var r *Refusal
	if errors.As(err, &r) {
		return r
	}
	return nil
}

func refuse(code string, cause error, args ...any) *Refusal {
	r := &Refusal{Code: code, Cause: cause}
	for i := 0; i+1 < len(args); i += 2 {
		if r.Args == nil {
			r.Args = map[string]any{}
		}
		r.Args[args[i].(string)] = args[i+1]
	}
	return r
}
