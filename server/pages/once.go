package pages

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"io"
	"mime"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"thatch/server/login"
	"thatch/server/status"
	"thatch/store"
	"thatch/timeline"
	"thatch/web/words"
)

// Headers between our pages and our scripts.
const (
	onceHeader    = "Thatch-Once"    // a key: the request may arrive more than once and acts once; it is answered in JSON
	laterHeader   = "Thatch-Later"   // the request was kept and is sent later: nobody waits to be told on the next page
	aheadHeader   = "Thatch-Ahead"   // the page is fetched to be read later: what the last action said stays for who asks next
	accountHeader = "Thatch-Account" // of an answer: for whom it was made; of a request: in whose name it was kept
	keptHeader    = "Thatch-Kept"    // of an answer: every photo of the request is stored
	refusedHeader = "Thatch-Refused" // of an answer: why not, percent-encoded
)

// nobody stands in accountHeader for a stranger: what a browser kept of whoever was here before is to go.
const nobody = "none"

// accountOf names who asks without telling who it is: what a browser keeps for one person is not for another. "" for strangers.
func accountOf(r *http.Request) string {
	v, ok := timeline.VisitorOf(r.Context())
	switch {
	case !ok || !v.Role.Valid():
		return ""
	case v.Person == "":
		return "here"
	}
	sum := sha256.Sum256([]byte("thatch account\n" + v.Person))
	return hex.EncodeToString(sum[:8])
}

// forAnother tells that what is sent was kept in another person's name, who has signed out since.
func forAnother(r *http.Request) error {
	if of := r.Header.Get(accountHeader); of != "" && of != accountOf(r) {
		return timeline.NewFault(timeline.SignedOut, "fault.once.account")
	}
	return nil
}

// onceAnswer is what a script is told of an action; as JSON it is also what is kept of it.
type onceAnswer struct {
	To   string       `json:"to,omitempty"`   // where the page would have gone
	Rev  timeline.Rev `json:"rev,omitempty"`  // version that the action made, where nobody else's is in between; of a refusal: that stands
	Say  string       `json:"say,omitempty"`  // why it is refused
	Now  []string     `json:"now,omitempty"`  // what stands there, where somebody else was first
	Said string       `json:"said,omitempty"` // what the next page says, as in its cookie
}

// onceRoutes are what a browser keeps and sends later: the log of a visit, and readings. All of them are for people of the
// salon only; of other actions nothing is kept, least of all where the answer is a secret or the asker a stranger.
var onceRoutes = []string{"/sessions/{id}/", "/dogs/{id}/measure"}

func mayOnce(r *http.Request) bool {
	return accountOf(r) != "" && slices.ContainsFunc(onceRoutes, func(p string) bool { return strings.HasPrefix(routeOf(r), p) })
}

// once lets an action act once for all repeats of a request, and answers a script instead of a reader.
func (s *Site) once(h handler) handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		kind, _, _ := mime.ParseMediaType(r.Header.Get("Content-Type"))
		if kind != "application/x-www-form-urlencoded" || !mayOnce(r) {
			return s.sayOnce(w, r, timeline.NewFault(timeline.Invalid, "fault.once.key"))
		}
		body, err := io.ReadAll(http.MaxBytesReader(w, r.Body, formLimitBytes))
		if err != nil {
			return s.sayOnce(w, r, badBody(err))
		}
		who, _ := timeline.VisitorOf(r.Context())
		asked := sha256.Sum256([]byte(r.URL.Path + "\n" + string(body)))
		key := store.Once{Key: r.Header.Get(onceHeader), Person: who.Person, Asked: hex.EncodeToString(asked[:])}
		out := &captured{header: http.Header{}}
		answer, again, err := s.salon.Once(r.Context(), key, func(ctx context.Context) (string, error) {
			r := r.WithContext(ctx)
			r.Body = io.NopCloser(bytes.NewReader(body))
			if err := h(out, r); err != nil {
				return "", err
			}
			if out.code != http.StatusSeeOther {
				return "", nil
			}
			return s.actedOnce(r, out, body), nil
		})
		if err != nil {
			return s.sayOnce(w, r, err)
		}
		if answer == "" { // the page was shown again, with what is wrong
			f := visitOf(r).fault
			if f == nil {
				f = timeline.NewFault(timeline.Invalid, "fault.form")
			}
			return s.sayOnce(w, r, f)
		}
		if !again {
			for name, values := range out.header {
				if name != "Location" && name != "Content-Type" {
					w.Header()[name] = values
				}
			}
		}
		var a onceAnswer
		if err := json.Unmarshal([]byte(answer), &a); err != nil {
			return err
		}
		switch {
		case r.Header.Get(laterHeader) != "":
			w.Header().Del("Set-Cookie")
		case again && a.Said != "":
			setSaid(w, r, a.Said, 60)
		}
		a.Said = ""
		return sendJSON(w, http.StatusOK, a)
	}
}

// actedOnce is the answer to an action that ended as all do: by sending the reader to a page.
func (s *Site) actedOnce(r *http.Request, out *captured, body []byte) string {
	a := onceAnswer{To: localPath(out.header.Get("Location"))}
	for _, c := range (&http.Response{Header: out.header}).Cookies() {
		if c.Name == login.CookieName(r, saidCookie) && c.MaxAge > 0 {
			a.Said = c.Value
		}
	}
	// Every action makes one version; more than one means that somebody else was there too, and then what is kept on the device
	// must not be said on top of it unseen.
	if form, err := url.ParseQuery(string(body)); err == nil {
		if was, err := strconv.Atoi(form.Get("rev")); err == nil {
			if rev, _ := s.standing(r); rev == timeline.Rev(was)+1 {
				a.Rev = rev
			}
		}
	}
	b, _ := json.Marshal(a) // strings and a number
	return string(b)
}

// standing is the version of what a route acts on, and what stands there in words.
func (s *Site) standing(r *http.Request) (timeline.Rev, []string) {
	route, id := routeOf(r), idOf(r, "id")
	switch {
	case strings.HasPrefix(route, "/sessions/{id}/"):
		v, err := s.salon.Session(r.Context(), id)
		if err != nil {
			return 0, nil
		}
		return v.Rev, logInWords(speakerOf(visitOf(r).settings), v)
	case strings.HasPrefix(route, "/dogs/{id}/"):
		d, err := s.salon.Dog(r.Context(), id)
		if err != nil {
			return 0, nil
		}
		return d.Rev, nil
	}
	return 0, nil
}

// logInWords is a session's log, a line an entry, and what is said of the visit as a whole.
func logInWords(sp words.Speaker, v timeline.Session) []string {
	out := []string{}
	for _, l := range v.Work {
		out = append(out, lineInWords(sp, l))
	}
	return append(out, factsInWords(sp, v)[1:]...) // the first counts the lines
}

// sayOnce tells a script why its request is refused. Our own trouble goes on to the page of faults: it may be tried again.
func (s *Site) sayOnce(w http.ResponseWriter, r *http.Request, err error) error {
	switch timeline.KindOf(err) {
	case timeline.Invalid, timeline.NotFound, timeline.Conflict, timeline.TooLarge, timeline.Forbidden:
	default:
		return err
	}
	f := status.Fault(err)
	a := onceAnswer{Say: speakerOf(visitOf(r).settings).Fault(f)}
	if f.Kind == timeline.Conflict {
		a.Rev, a.Now = s.standing(r)
	}
	return sendJSON(w, status.Of(f), a)
}

func badBody(err error) error {
	var tooLarge *http.MaxBytesError
	if errors.As(err, &tooLarge) {
		return timeline.NewFault(timeline.TooLarge, "fault.form.large").Because(err)
	}
	return timeline.NewFault(timeline.Invalid, "fault.form").Because(err)
}

func sendJSON(w http.ResponseWriter, code int, v any) error {
	b, err := json.Marshal(v)
	if err != nil {
		return err
	}
	w.Header().Set("Content-Type", "application/json; charset=utf-8")
	w.WriteHeader(code)
	_, _ = w.Write(b) // the browser went away: nobody to tell
	return nil
}

// captured is an answer that is not sent as it is.
type captured struct {
	header http.Header
	code   int
}

func (c *captured) Header() http.Header { return c.header }

func (c *captured) WriteHeader(code int) {
	if c.code == 0 {
		c.code = code
	}
}

func (c *captured) Write(b []byte) (int, error) {
	c.WriteHeader(http.StatusOK)
	return len(b), nil
}
