package timeline

import (
	"errors"
	"fmt"
	"sort"
	"strings"
	"time"
)

// Phrase is a sentence of the message catalogue, not yet in any language: a key and its named values.
// Values are strings, ints, Days, LengthMM, Zones, Points, Works, times and the like; the catalogue formats them.
type Phrase struct {
	Key  string
	Args map[string]any
}

// Say makes a Phrase; args alternate name, value.
func Say(key string, args ...any) Phrase {
	p := Phrase{Key: key}
	for i := 0; i+1 < len(args); i += 2 {
		if p.Args == nil {
			p.Args = map[string]any{}
		}
		p.Args[args[i].(string)] = args[i+1]
	}
	return p
}

// IsZero reports whether there is nothing to say.
func (p Phrase) IsZero() bool { return p.Key == "" }

// String is for logs and tests: the key and its values in order of name.
func (p Phrase) String() string {
	if len(p.Args) == 0 {
		return p.Key
	}
	var parts []string
	for k, v := range p.Args {
		parts = append(parts, fmt.Sprintf("%s=%v", k, v))
	}
	sort.Strings(parts)
	return p.Key + "(" + strings.Join(parts, ", ") + ")"
}

// LengthMM is a length that a Phrase carries; screens write it in the salon's unit.
type LengthMM float64

// Kind says whose trouble a Fault is; the edge turns it into a status or an exit code.
type Kind int

const (
	Internal  Kind = iota // our own trouble: 500, exit 1
	Invalid               // the input is wrong and can be put right: 422, exit 2
	NotFound              // 404, exit 2
	Conflict              // somebody else changed it meanwhile, or it exists: 409, exit 2
	TooLarge              // 413, exit 2
	Forbidden             // 403, exit 2
	Busy                  // the machine cannot serve now, try again: 503, exit 1
	NoSpace               // the disk is full: 507, exit 1
	TooNew                // the data folder is of a newer version: 503, exit 1
	SignedOut             // nobody has signed in, or no longer: 401, exit 2
	TooMany               // too many tries or requests, later again: 429, exit 1
)

// Fault is the one error type: a kind, a sentence safe for the user, where it happened, and the cause.
// Say's key is "fault.…" of the message catalogue.
type Fault struct {
	Kind  Kind
	Say   Phrase
	Op    string // operation and key, for the log: "add photo 3f2a…"
	Field string // the input field at fault, if one is: "on", "zones.back.layers[1].share"
	Err   error
	Wait  time.Duration // what was refused now may be tried again after this; 0: not known
}

// NewFault makes a Fault; args alternate name, value.
func NewFault(kind Kind, key string, args ...any) *Fault {
	return &Fault{Kind: kind, Say: Say(key, args...)}
}

// At adds the operation for the log.
func (f *Fault) At(op string) *Fault { f.Op = op; return f }

// In adds the input field at fault.
func (f *Fault) In(field string) *Fault { f.Field = field; return f }

// After adds how long to wait before trying again.
func (f *Fault) After(d time.Duration) *Fault { f.Wait = d; return f }

// Because adds the cause.
func (f *Fault) Because(err error) *Fault { f.Err = err; return f }

func (f *Fault) Error() string {
	s := f.Say.String()
	if f.Op != "" {
		s = f.Op + ": " + s
	}
	if f.Field != "" {
		s += " in " + f.Field
	}
	if f.Err != nil {
		s += ": " + f.Err.Error()
	}
	return s
}

func (f *Fault) Unwrap() error { return f.Err }

// KindOf is the kind of the outermost Fault in err, or Internal.
func KindOf(err error) Kind {
	var f *Fault
	if errors.As(err, &f) {
		return f.Kind
	}
	return Internal
}
