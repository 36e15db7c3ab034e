package pages

import (
	"net/http"
	"slices"
	"strconv"

	"thatch/timeline"
)

// waitingPhotos are those without a session, some at a time: a phone's whole gallery may wait.
type waitingPhotos struct {
	Shown []*timeline.Photo // newest first
	From  int               // so many newer ones are left out
	Next  int               // where the next ones begin; 0: these are the last
	More  int               // so many are older
}

const waitingShown = 12

func waitingOf(r *http.Request, all []*timeline.Photo) (w waitingPhotos) {
	if n, err := strconv.Atoi(r.URL.Query().Get("waiting")); err == nil && n > 0 && n < len(all) {
		w.From = n
	}
	newest := slices.Clone(all)
	slices.Reverse(newest)
	w.Shown = newest[w.From:min(w.From+waitingShown, len(newest))]
	if w.More = len(newest) - w.From - len(w.Shown); w.More > 0 {
		w.Next = w.From + len(w.Shown)
	}
	return w
}
