package status

import (
	"errors"
	"fmt"
	"testing"

	"thatch/timeline"
)

func TestEveryKindOfFaultHasItsStatus(t *testing.T) {
	for kind := timeline.Internal; kind <= timeline.TooMany; kind++ {
		if statuses[kind] < 400 {
			t.Errorf("kind %d has no status", kind)
		}
	}
	if got := Of(fmt.Errorf("outer: %w", timeline.NewFault(timeline.NoSpace, "fault.space"))); got != 507 {
		t.Errorf("a wrapped full disk is %d, want 507", got)
	}
}

func TestOurOwnTroubleTellsNothingOutside(t *testing.T) {
	f := Fault(errors.New("secret path"))
	if f.Say.Key != "fault.internal" || len(f.Say.Args) != 0 {
		t.Errorf("an internal error says %v", f.Say)
	}
}
