// Package api is the salon as JSON, under /api/v1: what the command line does, over HTTP. It owns requests and answers, and
// nothing of the trade. openapi.json describes it.
package api

import (
	_ "embed"
	"encoding/json"
	"errors"
	"io"
	"log/slog"
	"mime"
	"net/http"
	"net/url"
	"regexp"

	"github.com/go-chi/chi/v5"

	"thatch/server/pages"
	"thatch/server/salon"
	"thatch/server/status"
	"thatch/timeline"
	"thatch/web/words"
)

//go:embed openapi.json
var description []byte

type site struct {
	salon *salon.Salon
	log   *slog.Logger
}

// API is every route of /api/v1.
type API struct {
	*chi.Mux
	site *site
}

// Refuse answers a request that was turned away before it reached a route.
func (a *API) Refuse(w http.ResponseWriter, r *http.Request, err error) {
	a.site.answer(func(*http.Request) (int, any, error) { return 0, nil, err })(w, r)
}

// Handler is to be mounted at /api/v1.
func Handler(s *salon.Salon, log *slog.Logger) *API {
	a := &site{salon: s, log: log}
	r := chi.NewRouter()
	r.Get("/openapi.json", a.describe)
	r.Get("/dogs", a.answer(a.dogs))
	r.Post("/dogs/{dog}/photos", a.answer(a.postPhoto))
	r.Put("/dogs/{dog}/photos/{sha256}", a.answer(a.putPhoto))
	r.Get("/dogs/{dog}/timeline", a.answer(a.timeline))
	r.Get("/dogs/{dog}/forecast", a.answer(a.forecast))
	r.Get("/dogs/{dog}/plan", a.answer(a.plan))
	r.NotFound(a.answer(func(*http.Request) (int, any, error) { return 0, nil, notHere }))
	r.MethodNotAllowed(a.answer(func(*http.Request) (int, any, error) { return 0, nil, notHere }))
	return &API{r, a}
}

var notHere = timeline.NewFault(timeline.NotFound, "fault.not_found")

// fault is every answer that is not a success.
type fault struct {
	Error faultBody `json:"error"`
}

type faultBody struct {
	Kind    string  `json:"kind"`
	Message string  `json:"message"` // safe to show
	Field   *string `json:"field"`   // null: none
}

var kinds = map[timeline.Kind]string{
	timeline.Internal: "internal", timeline.Invalid: "invalid", timeline.NotFound: "not_found", timeline.Conflict: "conflict",
	timeline.TooLarge: "too_large", timeline.Forbidden: "forbidden", timeline.Busy: "busy", timeline.NoSpace: "no_space", timeline.TooNew: "too_new",
	timeline.SignedOut: "signed_out", timeline.TooMany: "too_many",
}

// answer is the one writer of JSON answers and errors.
func (a *site) answer(h func(*http.Request) (code int, doc any, err error)) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		code, doc, err := h(r)
		if err != nil {
			code = status.Of(err)
			f := status.Fault(err)
			status.RetryAfter(w.Header(), err)
			if f.Kind == timeline.Internal || f.Kind == timeline.NoSpace || f.Kind == timeline.Busy {
				a.log.Error("api", "method", r.Method, "route", chi.RouteContext(r.Context()).RoutePattern(), "error", err)
			}
			body := faultBody{Kind: kinds[f.Kind], Message: a.speaker(r).Fault(f)}
			if f.Field != "" {
				body.Field = &f.Field
			}
			doc = fault{body}
		}
		w.Header().Set("Content-Type", "application/json; charset=utf-8")
		w.Header().Set("Cache-Control", "no-store")
		w.WriteHeader(code)
		e := json.NewEncoder(w)
		e.SetEscapeHTML(false)
		_ = e.Encode(doc) // the client went away: nobody to tell
	}
}

func (a *site) speaker(r *http.Request) words.Speaker {
	set, err := a.salon.Settings(r.Context())
	if err != nil {
		return words.Speaker{Lang: words.English}
	}
	return pages.SpeakerFor(r, set)
}

func (a *site) describe(w http.ResponseWriter, _ *http.Request) {
	w.Header().Set("Content-Type", "application/json; charset=utf-8")
	_, _ = w.Write(description)
}

func (a *site) dogs(r *http.Request) (int, any, error) {
	roll, err := a.salon.Roll(r.Context())
	return http.StatusOK, roll, err
}

// dog is named in the path by ID or, as on the command line, by name.
func (a *site) dog(r *http.Request) (timeline.Dog, error) {
	name := chi.URLParam(r, "dog")
	if r.URL.RawPath != "" { // then chi matched the escaped path
		if plain, err := url.PathUnescape(name); err == nil {
			name = plain
		}
	}
	return a.salon.FindDog(r.Context(), name)
}

func (a *site) timeline(r *http.Request) (int, any, error) {
	d, err := a.dog(r)
	if err != nil {
		return 0, nil, err
	}
	t, err := a.salon.Timeline(r.Context(), d.ID)
	return http.StatusOK, t, err
}

// forecast is of the day in ?on=, today without it.
func (a *site) forecast(r *http.Request) (int, any, error) {
	d, err := a.dog(r)
	if err != nil {
		return 0, nil, err
	}
	on, err := a.salon.Today(r.Context())
	if err != nil {
		return 0, nil, err
	}
	if text := r.URL.Query().Get("on"); text != "" {
		if on, err = timeline.ParseDay(text); err != nil {
			return 0, nil, timeline.NewFault(timeline.Invalid, "fault.form.day", "text", short(text)).In("on").Because(err)
		}
	}
	f, err := a.salon.Forecast(r.Context(), d.ID, on)
	return http.StatusOK, f, err
}

func (a *site) plan(r *http.Request) (int, any, error) {
	d, err := a.dog(r)
	if err != nil {
		return 0, nil, err
	}
	p, err := a.salon.Plan(r.Context(), d.ID)
	if err != nil {
		return 0, nil, err
	}
	return http.StatusOK, p.JSON(a.speaker(r).Say), nil
}

// photoEntry is one photo as `thatch inspect --json` writes it, with what became of it.
type photoEntry struct {
	salon.Entry
	ID      timeline.ID  `json:"id"`
	Already bool         `json:"already"`
	Session *sessionLink `json:"session"` // null: not paired
}

type sessionLink struct {
	ID timeline.ID  `json:"id"`
	On timeline.Day `json:"on"`
}

var shaPattern = regexp.MustCompile(`^[0-9a-f]{64}$`)

// putPhoto takes the body as the photo; its hash must be the one in the path.
func (a *site) putPhoto(r *http.Request) (int, any, error) {
	sha := chi.URLParam(r, "sha256")
	if !shaPattern.MatchString(sha) {
		return 0, nil, timeline.NewFault(timeline.Invalid, "fault.api.hash_form").In("sha256")
	}
	return a.add(r, sha[:12], r.Body, sha)
}

// postPhoto takes the first file of a form; the server hashes it. The path for pages without a script or secure context.
func (a *site) postPhoto(r *http.Request) (int, any, error) {
	if kind, _, err := mime.ParseMediaType(r.Header.Get("Content-Type")); err != nil || kind != "multipart/form-data" {
		return 0, nil, timeline.NewFault(timeline.Invalid, "fault.api.multipart")
	}
	parts, err := r.MultipartReader()
	if err != nil {
		return 0, nil, timeline.NewFault(timeline.Invalid, "fault.api.multipart").Because(err)
	}
	for {
		part, err := parts.NextPart()
		if errors.Is(err, io.EOF) {
			return 0, nil, timeline.NewFault(timeline.Invalid, "fault.upload.none").In("photo")
		}
		if err != nil {
			return 0, nil, timeline.NewFault(timeline.Invalid, "fault.form").Because(err)
		}
		if name := part.FileName(); name != "" {
			return a.add(r, name, part, "")
		}
	}
}

func (a *site) add(r *http.Request, name string, body io.Reader, sha string) (int, any, error) {
	d, err := a.dog(r)
	if err != nil {
		return 0, nil, err
	}
	added, err := a.salon.AddPhoto(r.Context(), d.ID, name, body, sha)
	if err != nil {
		return 0, nil, err
	}
	out := photoEntry{Entry: salon.EntryOf(added.Photo.File, added.Facts, ""), ID: added.Photo.ID, Already: added.Already}
	if added.Session != nil {
		out.Session = &sessionLink{added.Session.ID, added.Session.On}
	}
	if added.Already {
		return http.StatusOK, out, nil
	}
	return http.StatusCreated, out, nil
}

func short(s string) string {
	if r := []rune(s); len(r) > 40 {
		return string(r[:40]) + "…"
	}
	return s
}
