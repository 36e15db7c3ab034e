package server_test

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"image"
	"io"
	"log/slog"
	"mime/multipart"
	"net"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"thatch/imaging"
	"thatch/server"
	"thatch/server/api"
	"thatch/server/guard"
	"thatch/server/jobs"
	"thatch/server/salon"
	"thatch/server/share"
	"thatch/store"
	"thatch/timeline"
	"thatch/web"
)

// house is the whole server over a real store, asked over HTTP.
type house struct {
	t   *testing.T
	dir string
	st  *store.Store
	s   *salon.Salon
	url string
	log *lockedBuffer
	// Of each kind of thing one that exists.
	dog             timeline.Dog
	photos          []timeline.Photo
	session         timeline.Session
	show            timeline.Show
	link            timeline.Link
	share           string
	heap            timeline.ID
	reading         timeline.ID
	check           timeline.ID
	kind            timeline.ID
	asset           string
	sha             string
	body            []byte // of that hash
	people          map[timeline.Role]timeline.Person
	invite          timeline.Invitation
	inviteToken     string
	tokenOfAnother  timeline.APIToken
	secretOfTheirs  string
	signInOfAnother timeline.ID
}

// lockedBuffer is a log that many may write to while one reads.
type lockedBuffer struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (l *lockedBuffer) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.Write(p)
}

func (l *lockedBuffer) String() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.String()
}

// saidToBe is a stand-in for signing in: who asks stands in a header.
type saidToBe struct{ *house }

const visitorHeader = "X-Test-Visitor"

func (x saidToBe) Middleware(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if said := r.Header.Get(visitorHeader); said != "" {
			role, scope, _ := strings.Cut(said, " ")
			v := timeline.Visitor{Person: x.people[timeline.Role(role)].ID, Name: "Somebody", Role: timeline.Role(role), Scope: timeline.Scope(scope)}
			if v.Person == "" {
				v.Person = "somebody"
			}
			if scope != "" {
				v.Token = "a token"
			}
			r = r.WithContext(timeline.WithVisitor(r.Context(), v))
		}
		next.ServeHTTP(w, r)
	})
}

func must[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}

var (
	nameOf     = map[timeline.Role]string{timeline.Owner: "Olive", timeline.Groomer: "Greta", timeline.Reader: "Robin"}
	passwordOf = map[timeline.Role]string{timeline.Owner: "moss-lantern-quarry-7", timeline.Groomer: "velvet-otter-harbour-3", timeline.Reader: "copper-willow-engine-5"}
)

var today = timeline.Date(2026, time.June, 10)

func photoOf(shade uint8, on timeline.Day, minute int) []byte {
	img := image.NewNRGBA(image.Rect(0, 0, 240, 180))
	for i := range img.Pix {
		img.Pix[i] = shade + uint8(i/4%9)
	}
	var b bytes.Buffer
	if err := imaging.EncodeJPEG(&b, img, 80); err != nil {
		panic(err)
	}
	return must(imaging.InsertEXIF(b.Bytes(), imaging.EXIFFields{TakenLocal: on.Time().Add(time.Duration(9*60+minute) * time.Minute), Offset: "+00:00"}))
}

var standing = timeline.Landmarks{
	timeline.Nose: {X: 20, Y: 50}, timeline.Occiput: {X: 60, Y: 30}, timeline.WithersPt: {X: 90, Y: 60}, timeline.MidBack: {X: 130, Y: 62}, timeline.TailSet: {X: 170, Y: 62},
	timeline.Buttock: {X: 184, Y: 80}, timeline.Prosternum: {X: 64, Y: 90}, timeline.Elbow: {X: 84, Y: 104}, timeline.FrontPaw: {X: 80, Y: 164}, timeline.Hock: {X: 184, Y: 132}, timeline.HindPaw: {X: 176, Y: 164},
}

// built makes the salon; who is asked with is the sign-in that the server is given, nil: whoever asks is the owner.
func built(t *testing.T, who func(*house) server.Login) *house {
	t.Helper()
	ctx := context.Background()
	x := &house{t: t, dir: t.TempDir(), log: &lockedBuffer{}, people: map[timeline.Role]timeline.Person{}}
	now := func() time.Time { return today.Time().Add(11 * time.Hour) }
	x.st = must(store.Open(ctx, x.dir, store.Options{Now: now}))
	t.Cleanup(func() { x.st.Close() })
	x.s = salon.New(x.st, salon.Options{Now: now})
	log := x.logger()
	x.furnish(ctx)
	var asked atomic.Int64 // the clock of the limits runs a second a request, so that none is met
	ticks := func() time.Time { return now().Add(time.Duration(asked.Add(1)) * time.Second) }
	opt := server.Options{Log: log, Now: ticks, API: api.Handler(x.s, log), Share: must(share.Handler(x.s, log))}
	if who != nil {
		opt.Login = who(x)
	}
	srv := httptest.NewUnstartedServer(must(server.New(x.s, opt)))
	srv.Config.ErrorLog = slog.NewLogLogger(log.Handler(), slog.LevelDebug)
	srv.Start()
	t.Cleanup(srv.Close)
	x.url = srv.URL
	return x
}

func (x *house) furnish(ctx context.Context) {
	x.dog = must(x.s.CreateDog(ctx, salon.NewDog{
		Name: "Wisp", Client: "Number Nine", Notes: "CanaryNote", WithersMM: 340, ShareOK: true, Next: today + 14,
		Answers: timeline.Answers{On: today - 30, LastWorked: today - 44, Rolled: true, Undercoat: timeline.UndercoatSome, LongestWithersMM: 24},
	}))
	for i, on := range []timeline.Day{today - 14, today} {
		x.session = must(x.s.OpenSession(ctx, x.dog.ID, on))
		a := must(x.s.AddPhoto(ctx, x.dog.ID, "a.jpg", bytes.NewReader(photoOf(uint8(60+40*i), on, i)), ""))
		p := must(x.s.SetPhotoFacts(ctx, a.Photo.ID, a.Photo.Rev, salon.PhotoEdit{CoatState: timeline.CoatBrushedDown}))
		x.photos = append(x.photos, must(x.s.SavePoints(ctx, p.ID, p.Rev, standing)))
	}
	x.show = must(x.s.AddShow(ctx, timeline.Show{Dog: x.dog.ID, Name: "Hall Show", On: today + 60}))
	readings := must(x.s.AddReadings(ctx, x.dog.ID, "", today, map[timeline.Zone]float64{timeline.Back: 22}, true))
	x.reading = readings.Readings[0].ID
	x.share, x.link = must2(x.s.MakeLink(ctx, x.dog.ID, "Mx Owner"))
	x.heap = must(x.s.AddToHeap(ctx, "h.jpg", bytes.NewReader(photoOf(140, today, 30)), "")).Photo.ID
	x.kind = timeline.ID(must(x.s.CopyKind(ctx, "rough", "Ours")).Key)
	code := must(x.s.MakeOwnerCode(ctx, time.Hour))
	x.people[timeline.Owner] = must(x.s.OwnerByCode(ctx, code, "Olive", passwordOf[timeline.Owner], salon.Knock{}))
	for _, role := range []timeline.Role{timeline.Groomer, timeline.Reader} {
		token, _ := must2(x.s.Invite(ctx, nameOf[role], role))
		x.people[role] = must(x.s.Join(ctx, token, nameOf[role], passwordOf[role]))
	}
	x.inviteToken, x.invite = must2(x.s.Invite(ctx, "Newcomer", timeline.Reader))
	x.secretOfTheirs, x.tokenOfAnother = must2(x.s.MakeToken(ctx, x.people[timeline.Reader].ID, "A phone", timeline.ScopeRead, 30))
	x.check = "0000000000000000" // a salon's own spread takes five photos of one dog: only the unknown is asked for
	x.asset, _ = web.AssetURL(web.StyleSheet)
	x.body = photoOf(200, today-3, 1)
	sum := sha256.Sum256(x.body)
	x.sha = hex.EncodeToString(sum[:])
	if err := jobs.Drain(ctx, x.st, x.s, jobs.Options{Log: x.logger()}); err != nil {
		x.t.Fatal(err)
	}
}

func must2[A, B any](a A, b B, err error) (A, B) {
	if err != nil {
		panic(err)
	}
	return a, b
}

// ask sends a request as somebody; nothing is followed.
func (x *house) ask(as, method, path, contentType string, body io.Reader, headers ...string) (*http.Response, string) {
	x.t.Helper()
	r := must(http.NewRequest(method, x.url+path, body))
	if as != "" {
		r.Header.Set(visitorHeader, as)
	}
	if contentType != "" {
		r.Header.Set("Content-Type", contentType)
	}
	for i := 0; i+1 < len(headers); i += 2 {
		r.Header.Set(headers[i], headers[i+1])
	}
	resp, err := dontFollow.Do(r)
	if err != nil {
		x.t.Fatalf("%s %s: %v", method, path, err)
	}
	defer resp.Body.Close()
	return resp, string(must(io.ReadAll(resp.Body)))
}

var dontFollow = &http.Client{CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}

const unknownID = "zzzzzzzzzzzzzzzz"

// path fills a pattern in: with things that exist, or that do not.
func (x *house) path(row guard.Row, exists bool) string {
	p := row.Pattern
	id := map[guard.Object]timeline.ID{
		guard.Dog: x.dog.ID, guard.Photo: x.photos[0].ID, guard.Session: x.session.ID, guard.Show: x.show.ID, guard.Link: x.link.ID,
		guard.Reading: x.reading, guard.Heap: x.heap, guard.Check: x.check, guard.Invite: x.invite.ID, guard.Token: x.tokenOfAnother.ID,
		guard.Person: x.people[timeline.Reader].ID, guard.SignIn: x.signInOfAnother, guard.Trash: x.dog.ID,
	}[row.Object]
	switch {
	case strings.HasPrefix(p, "/dogs/{id}"):
		id = x.dog.ID
	case strings.HasPrefix(p, "/photos/{id}"):
		id = x.photos[0].ID
	case strings.HasPrefix(p, "/people/{id}"):
		id = x.people[timeline.Reader].ID
	}
	kind := "view"
	if row.Object == guard.Trash {
		kind = "dog"
	}
	fill := map[string]string{
		"{id}": string(id), "{dog}": string(x.dog.ID), "{other}": string(x.photos[1].ID), "{ref}": string(x.photos[1].ID), "{photo}": string(x.photos[0].ID),
		"{key}": string(x.kind), "{part}": "growth", "{kind}": kind, "{format}": "png", "{sha256}": x.sha, "{hash}/*": strings.TrimPrefix(x.asset, "/assets/"),
		"{token}": x.share,
	}
	if strings.HasPrefix(p, "/join/") {
		fill["{token}"] = x.inviteToken
	}
	if strings.HasPrefix(p, "/people/") {
		fill["{token}"] = string(x.tokenOfAnother.ID)
	}
	for k, v := range fill {
		if !exists {
			switch k {
			case "{id}", "{dog}", "{other}", "{ref}", "{key}", "{photo}":
				v = unknownID
			case "{token}":
				v = strings.Repeat("q", 43)
			case "{hash}/*":
				v = "0000/none.css"
			}
		}
		p = strings.ReplaceAll(p, k, v)
	}
	if strings.ContainsAny(p, "{}*") {
		x.t.Fatalf("%s: this test does not know how to fill it in", row.Pattern)
	}
	return p
}

// named tells whether a pattern names a thing at all.
func named(row guard.Row) bool {
	for _, k := range []string{"{id}", "{dog}", "{key}", "{token}", "{hash}"} {
		if strings.Contains(row.Pattern, k) {
			return true
		}
	}
	return false
}

// bodyFor is a body that the route reads, though the use case may refuse it.
func (x *house) bodyFor(row guard.Row) (contentType string, body io.Reader) {
	switch {
	case row.Method == http.MethodGet:
		return "", nil
	case row.Method == http.MethodPut:
		return "image/jpeg", bytes.NewReader(x.body)
	case row.Body > guard.FormBody:
		var b bytes.Buffer
		m := multipart.NewWriter(&b)
		_, _ = must(m.CreateFormFile("photos", "p.jpg")).Write(x.body)
		_ = m.Close()
		return m.FormDataContentType(), &b
	}
	return "application/x-www-form-urlencoded", strings.NewReader("rev=1&name=New&key=rough&theme=dark")
}

func (x *house) logger() *slog.Logger {
	return slog.New(slog.NewTextHandler(x.log, &slog.HandlerOptions{Level: slog.LevelDebug}))
}

// send writes what may be no request at all, and waits until it is answered or hung up on.
func (x *house) send(raw string) {
	x.t.Helper()
	c, err := net.Dial("tcp", strings.TrimPrefix(x.url, "http://"))
	if err != nil {
		x.t.Fatal(err)
	}
	defer c.Close()
	_ = c.SetDeadline(time.Now().Add(10 * time.Second))
	_, _ = io.WriteString(c, raw)
	_, _ = io.ReadAll(c)
}
