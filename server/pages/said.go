package pages

import (
	"net/http"
	"regexp"
	"slices"
	"strings"

	"thatch/server/login"
	"thatch/timeline"
)

// said is what the last action said, carried over its redirect by a cookie that lives for one page. The cookie holds
// names of an allowlist and an ID, never a sentence: a forged one can at most show one of our own sentences.
type said struct {
	Code string      // the text is "said.<code>"
	Kind string      // what can be had back: "photo", "session", …; "" nothing
	ID   timeline.ID // of it
}

// sayings are the codes that exist; a new one also needs its text.
var sayings = []string{
	"dog.added", "dog.saved", "dog.trashed",
	"photo.saved", "photo.date", "photo.paired", "photo.trashed", "points.saved", "tape.saved", "tape.removed",
	"heap.said", "heap.unsaid", "heap.trashed",
	"check.added", "check.trashed",
	"target.saved", "target.removed",
	"care.saved", "hands.saved",
	"session.opened", "session.saved", "session.trashed", "session.off", "session.repeated", "session.undone",
	"sheet.finished", "sheet.assistant", "sheet.teacher", "sheet.time", "plan.kept", "plan.undone",
	"readings.saved", "reading.trashed", "show.saved", "show.trashed",
	"kind.copied", "kind.saved", "kind.reset", "kind.trashed",
	"person.saved", "person.role", "person.ended", "invitation.withdrawn", "password.changed", "signin.ended", "token.ended", "key.ended",
	"settings.saved", "link.withdrawn", "restored",
}

// trashKinds are what can be restored.
var trashKinds = []string{"dog", "photo", "session", "reading", "show", "profile", "check", "heap"}

const saidCookie = "thatch_said"

var idPattern = regexp.MustCompile(`^[0-9a-zA-Z]{1,40}$`)

// say lets the next page say a code of sayings. An undo of kind and id is offered where kind is not "".
func sayNext(w http.ResponseWriter, r *http.Request, code, kind string, id timeline.ID) {
	setSaid(w, r, code+"~"+kind+"~"+string(id), 60)
}

func readSaid(r *http.Request) *said {
	c, err := r.Cookie(login.CookieName(r, saidCookie))
	if err != nil {
		return nil
	}
	parts := strings.Split(c.Value, "~")
	if len(parts) != 3 || !slices.Contains(sayings, parts[0]) {
		return nil
	}
	s := &said{Code: parts[0]}
	if slices.Contains(trashKinds, parts[1]) && idPattern.MatchString(parts[2]) {
		s.Kind, s.ID = parts[1], timeline.ID(parts[2])
	}
	return s
}

func forget(w http.ResponseWriter, r *http.Request) {
	setSaid(w, r, "", -1)
}

func setSaid(w http.ResponseWriter, r *http.Request, value string, seconds int) {
	http.SetCookie(w, &http.Cookie{
		Name: login.CookieName(r, saidCookie), Value: value, Path: "/", MaxAge: seconds, HttpOnly: true, Secure: r.TLS != nil, SameSite: http.SameSiteStrictMode,
	})
}

// restore is the undo behind every "put aside": POST /restore/{kind}/{id}, back to the page it came from.
func (s *Site) restore(w http.ResponseWriter, r *http.Request) error {
	f, err := readForm(w, r)
	if err != nil {
		return err
	}
	if err := s.salon.Restore(r.Context(), kindOf(r), idOf(r, "id")); err != nil {
		return err
	}
	sayNext(w, r, "restored", "", "")
	return seeOther(w, r, f.Get("back"))
}
