package pages

import (
	"bytes"
	"container/list"
	"fmt"
	"io"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"sync"

	"github.com/klauspost/compress/gzip"

	"thatch/timeline"
)

// kept are rendered pages, the newest ones, by everything that they were made from: what is in it cannot be stale. They are
// kept as they travel, squeezed.
type kept struct {
	mu    sync.Mutex
	bytes int
	at    map[string]*list.Element
	order list.List // of *keptPage, newest first
}

type keptPage struct {
	key  string
	body []byte
}

const keptBytes = 64 << 20

func newKept() *kept { return &kept{at: map[string]*list.Element{}} }

func (k *kept) get(key string) []byte {
	k.mu.Lock()
	defer k.mu.Unlock()
	el, ok := k.at[key]
	if !ok {
		return nil
	}
	k.order.MoveToFront(el)
	return el.Value.(*keptPage).body
}

func (k *kept) put(key string, body []byte) {
	k.mu.Lock()
	defer k.mu.Unlock()
	if _, ok := k.at[key]; ok || len(body) > keptBytes/16 {
		return
	}
	k.at[key] = k.order.PushFront(&keptPage{key, body})
	for k.bytes += len(key) + len(body); k.bytes > keptBytes; {
		last := k.order.Back()
		old := last.Value.(*keptPage)
		k.order.Remove(last)
		delete(k.at, old.key)
		k.bytes -= len(old.key) + len(old.body)
	}
}

// whileUnchanged answers with the page as it was rendered before, while nothing has changed of the dog that it is of, nor
// for the one who asks.
func (s *Site) whileUnchanged(dogOf func(*http.Request) (timeline.ID, error), h handler) handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		if visitOf(r).said != nil {
			return h(w, r)
		}
		dog, err := dogOf(r)
		if err != nil {
			return h(w, r) // which says so in its own way
		}
		mark, err := s.salon.Mark(r.Context(), dog)
		if err != nil {
			return h(w, r)
		}
		who, _ := timeline.VisitorOf(r.Context())
		key := fmt.Sprint(r.URL.RequestURI(), "\n", mark, "\n", who, "\n", visitOf(r).theme, "\n", visitOf(r).settings.Lang)
		if body := s.kept.get(key); body != nil {
			pageHeaders(w)
			return sendSqueezed(w, r, body)
		}
		rec := recorder{ResponseWriter: w, body: buffers.take()}
		defer buffers.back(rec.body)
		if err := h(&rec, r); err != nil {
			return err
		}
		if rec.status != http.StatusOK {
			w.WriteHeader(rec.status)
			_, _ = w.Write(rec.body.Bytes()) // the browser went away: nobody to tell
			return nil
		}
		body := squeeze(rec.body.Bytes())
		s.kept.put(key, body)
		return sendSqueezed(w, r, body)
	}
}

// recorder holds a page back.
type recorder struct {
	http.ResponseWriter
	status int
	body   *bytes.Buffer
}

func (r *recorder) WriteHeader(code int) { r.status = code }

func (r *recorder) Write(b []byte) (int, error) {
	if r.status == 0 {
		r.status = http.StatusOK
	}
	return r.body.Write(b)
}

// Squeezing is the level at which pages are squeezed. The quickest level of the standard library takes 1.7 times as long for
// pages 3 % longer.
const Squeezing = 2

// NewSqueezer writes gzip.
func NewSqueezer(w io.Writer, level int) io.Writer {
	z, err := gzip.NewWriterLevel(w, level)
	if err != nil {
		panic(err) // no such level
	}
	return z
}

var squeezers = sync.Pool{New: func() any { return NewSqueezer(nil, Squeezing) }}

func squeeze(page []byte) []byte {
	z := squeezers.Get().(*gzip.Writer)
	defer squeezers.Put(z)
	out := buffers.take()
	defer buffers.back(out)
	z.Reset(out)
	_, _ = z.Write(page) // into memory: cannot fail
	_ = z.Close()
	return slices.Clone(out.Bytes()) // kept for long: not a byte more than it is
}

// sendSqueezed sends a squeezed page, opened again for the few who cannot.
func sendSqueezed(w http.ResponseWriter, r *http.Request, body []byte) error {
	w.Header().Add("Vary", "Accept-Encoding")
	if strings.Contains(r.Header.Get("Accept-Encoding"), "gzip") {
		w.Header().Set("Content-Encoding", "gzip")
		w.Header().Set("Content-Length", strconv.Itoa(len(body)))
		_, _ = w.Write(body) // the browser went away: nobody to tell
		return nil
	}
	z, err := gzip.NewReader(bytes.NewReader(body))
	if err != nil {
		return err
	}
	_, _ = io.Copy(w, z) // the same
	return nil
}

func (s *Site) dogItself(r *http.Request) (timeline.ID, error) { return idOf(r, "id"), nil }

func (s *Site) dogOfSession(r *http.Request) (timeline.ID, error) {
	return s.salon.DogOfSession(r.Context(), idOf(r, "id"))
}

func (s *Site) dogOfPhoto(r *http.Request) (timeline.ID, error) {
	return s.salon.DogOfPhoto(r.Context(), idOf(r, "id"))
}
