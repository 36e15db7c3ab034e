// Package status says which HTTP status an error means: the one place where kinds of trouble become numbers.
package status

import (
	"errors"
	"net/http"
	"strconv"
	"time"

	"thatch/timeline"
)

var statuses = map[timeline.Kind]int{
	timeline.Internal:  http.StatusInternalServerError,
	timeline.Invalid:   http.StatusUnprocessableEntity,
	timeline.NotFound:  http.StatusNotFound,
	timeline.Conflict:  http.StatusConflict,
	timeline.TooLarge:  http.StatusRequestEntityTooLarge,
	timeline.Forbidden: http.StatusForbidden,
	timeline.Busy:      http.StatusServiceUnavailable,
	timeline.NoSpace:   http.StatusInsufficientStorage,
	timeline.TooNew:    http.StatusServiceUnavailable,
	timeline.SignedOut: http.StatusUnauthorized,
	timeline.TooMany:   http.StatusTooManyRequests,
}

// Of is the status of an error; anything that is not a Fault is our own trouble.
func Of(err error) int { return statuses[timeline.KindOf(err)] }

// RetryAfter says in the header how long to wait, where the error knows.
func RetryAfter(h http.Header, err error) {
	var f *timeline.Fault
	if errors.As(err, &f) && f.Wait > 0 {
		h.Set("Retry-After", strconv.Itoa(int((f.Wait+time.Second-1)/time.Second)))
	}
}

// Fault is the Fault in err, or one that says our own trouble without telling its cause to the outside.
func Fault(err error) *timeline.Fault {
	var f *timeline.Fault
	if errors.As(err, &f) && f.Kind != timeline.Internal {
		return f
	}
	return timeline.NewFault(timeline.Internal, "fault.internal").Because(err)
}
