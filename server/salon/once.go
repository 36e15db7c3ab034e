package salon

import (
	"context"
	"regexp"

	"thatch/store"
	"thatch/timeline"
)

// OnceDays is how long a repeated request is known for one at least.
const OnceDays = 30

// onceForm is a key as a device makes it: random, and so long that no two devices make the same.
var onceForm = regexp.MustCompile(`^[0-9A-Za-z_-]{20,64}$`)

// Once lets act act for a request that may arrive more than once. The first time, act's answer is kept; a repeat of it is given
// that answer and act is not called (again is true). act must use the context that it is given, and its answer must not be
// empty where it acted. Where act refuses, nothing is kept and the same may be tried again.
//
// Faults: Invalid where the key is none, or is that of another request or of another person; Conflict where the request acted
// and was cut off before its answer was kept, so that nobody knows whether all of it is done.
func (s *Salon) Once(ctx context.Context, o store.Once, act func(ctx context.Context) (answer string, err error)) (answer string, again bool, err error) {
	if !onceForm.MatchString(o.Key) {
		return "", false, timeline.NewFault(timeline.Invalid, "fault.once.key")
	}
	done, err := s.once.take(ctx, o.Key) // the same request twice at the same time: the second waits for the first's answer
	if err != nil {
		return "", false, err
	}
	defer done()
	if answer, seen, err := s.answered(ctx, o); seen || err != nil {
		return answer, seen, err
	}
	// A device that stops waiting must not cut an action in two.
	answer, err = act(store.WithOnce(context.WithoutCancel(ctx), o))
	if err != nil || answer == "" {
		if timeline.KindOf(err) == timeline.Conflict { // another process may have been first
			if was, seen, _ := s.answered(ctx, o); seen {
				return was, true, nil
			}
		}
		return answer, false, err
	}
	return answer, false, s.st.AnswerOnce(context.WithoutCancel(ctx), o, answer)
}

// answered is what a request was answered before.
func (s *Salon) answered(ctx context.Context, o store.Once) (answer string, seen bool, err error) {
	was, seen, err := s.st.OnceOf(ctx, o.Key)
	switch {
	case err != nil || !seen:
		return "", false, err
	case was.Person != o.Person || was.Asked != o.Asked:
		return "", false, timeline.NewFault(timeline.Invalid, "fault.once.other")
	case was.Answer == "":
		return "", false, timeline.NewFault(timeline.Conflict, "fault.once.unknown")
	}
	return was.Answer, true, nil
}
