package pages

import (
	"bytes"
	"fmt"
	"html/template"
	"io/fs"
	"net/http"
	"path"
	"reflect"
	"slices"
	"strings"
	"sync"
	"time"

	"thatch/store"
	"thatch/timeline"
	"thatch/web"
	"thatch/web/words"
)

// frame is what the layout needs to know of a page; every page's struct embeds it.
type frame struct {
	Status int     // 0: 200
	Tab    string  // which entry of the navigation is the current one
	Dog    *dogNav // nil: the page is not about one dog
}

func (f frame) chrome() frame { return f }

// dogNav puts a dog's own tabs into the navigation.
type dogNav struct {
	ID   timeline.ID
	Name string
}

func navOf(d timeline.Dog) *dogNav { return &dogNav{ID: d.ID, Name: d.Name} }

type framed interface{ chrome() frame }

// view is a template file of templates/pages with the one struct that it is given.
type view[T framed] struct{ name string }

var declared []string

// shapes are the structs of the declared pages.
var shapes = map[string]reflect.Type{}

// declare names a page's template; New refuses to start if it is missing, or if a template is declared by nobody.
func declare[T framed](name string) view[T] {
	declared = append(declared, name)
	shapes[name] = reflect.TypeFor[T]()
	return view[T]{name}
}

// layoutData is what layout.html is given.
type layoutData struct {
	Lang  string
	Theme string
	Who   *who // nil: a stranger
	Salon string
	Frame frame
	Said  *said
	Here  string // path, for forms that come back
	Page  any
}

// show renders into memory first: a template that fails half-way leaves no half page behind.
func (v view[T]) show(s *Site, w http.ResponseWriter, r *http.Request, data T) error {
	visit := visitOf(r)
	book, err := shelf.of(speakerOf(visit.settings), mayChange(r))
	if err != nil {
		return err
	}
	f := data.chrome()
	out := buffers.take()
	defer buffers.back(out)
	err = book[v.name].ExecuteTemplate(out, "layout.html", layoutData{
		Lang: lang(visit.settings), Theme: visit.theme, Who: whoAsks(r), Salon: visit.settings.SalonName,
		Frame: f, Said: visit.said, Here: here(r, f), Page: data,
	})
	if err != nil {
		return fmt.Errorf("template %s: %w", v.name, err)
	}
	if visit.said != nil {
		forget(w, r)
	}
	pageHeaders(w)
	if f.Status == 0 {
		f.Status = http.StatusOK
	}
	w.WriteHeader(f.Status)
	_, _ = out.WriteTo(w) // the browser went away: nobody to tell
	return nil
}

// buffers are what pages are rendered into: a page is so long that a new one each time would keep the collector busy.
var buffers bufferPool

type bufferPool struct{ pool sync.Pool }

// bufferBytes is how long a buffer is kept at most: one long page does not hold its memory for ever.
const bufferBytes = 1 << 20

func (p *bufferPool) take() *bytes.Buffer {
	if b, ok := p.pool.Get().(*bytes.Buffer); ok {
		return b
	}
	return new(bytes.Buffer)
}

func (p *bufferPool) back(b *bytes.Buffer) {
	if b.Cap() > bufferBytes {
		return
	}
	b.Reset()
	p.pool.Put(b)
}

func pageHeaders(w http.ResponseWriter) {
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.Header().Set("Cache-Control", "no-store") // a groomer's data; and Back shows what is, not what was
}

// here is where a form of the layout comes back to. The address of an action has no page of its own: then it is the dog's
// page, or the first.
func here(r *http.Request, f frame) string {
	switch {
	case r.Method == http.MethodGet || r.Method == http.MethodHead:
		return r.URL.RequestURI()
	case f.Dog != nil:
		return "/dogs/" + string(f.Dog.ID)
	}
	return "/"
}

// bare renders only the content, for a script that puts it into a page.
func (v view[T]) bare(s *Site, w http.ResponseWriter, r *http.Request, data T) error {
	book, err := shelf.of(speakerOf(visitOf(r).settings), mayChange(r))
	if err != nil {
		return err
	}
	out := buffers.take()
	defer buffers.back(out)
	if err := book[v.name].ExecuteTemplate(out, "content", data); err != nil {
		return fmt.Errorf("template %s: %w", v.name, err)
	}
	pageHeaders(w)
	if code := data.chrome().Status; code != 0 {
		w.WriteHeader(code)
	}
	_, _ = out.WriteTo(w)
	return nil
}

// speakerOf is the salon's language, unit and zone.
func speakerOf(set store.Settings) words.Speaker {
	zone, err := time.LoadLocation(set.Zone)
	if err != nil || set.Zone == "" || set.Zone == "Local" {
		zone = time.UTC
	}
	return words.Speaker{Lang: lang(set), Units: words.Units(set.Units), Zone: zone, Unbroken: true}
}

func lang(set store.Settings) string {
	if set.Lang == "" {
		return words.English
	}
	return set.Lang
}

// book is every page's template, bound to one way of speaking and to whether who asks may change anything.
type book map[string]*template.Template

// books keeps one book a way of speaking: functions are bound when a template is parsed, and a salon speaks one or two,
// to those who change and to those who look.
type books struct {
	mu  sync.Mutex
	all map[string]book
}

// shelf has the books of all sites of a process: they are made of the embedded templates and of nothing else.
var shelf = &books{all: map[string]book{}}

func (b *books) of(sp words.Speaker, mayChange bool) (book, error) {
	zone := "UTC"
	if sp.Zone != nil {
		zone = sp.Zone.String()
	}
	key := fmt.Sprint(sp.Lang, "|", sp.Units, "|", zone, "|", mayChange)
	b.mu.Lock()
	defer b.mu.Unlock()
	if bk, ok := b.all[key]; ok {
		return bk, nil
	}
	bk, err := parseBook(sp, mayChange)
	if err != nil {
		return nil, err
	}
	if len(b.all) >= 16 {
		clear(b.all)
	}
	b.all[key] = bk
	return bk, nil
}

func parseBook(sp words.Speaker, mayChange bool) (book, error) {
	made := newReady()
	base, err := template.New("base").Funcs(funcs(sp, mayChange)).Funcs(made.funcs(sp)).ParseFS(web.Templates(), "layout.html", "parts/*.html")
	if err != nil {
		return nil, err
	}
	fold(base, sp, mayChange) // its clones are folded with it
	if made.parts, err = base.Clone(); err != nil {
		return nil, err
	}
	names, err := fs.Glob(web.Templates(), "pages/*.html")
	if err != nil {
		return nil, err
	}
	bk := book{}
	for _, name := range names {
		t, err := base.Clone()
		if err != nil {
			return nil, err
		}
		if t, err = t.ParseFS(web.Templates(), name); err != nil {
			return nil, err
		}
		fold(t, sp, mayChange)
		bk[strings.TrimSuffix(path.Base(name), ".html")] = t
	}
	return bk, nil
}

func (b *books) check() error {
	bk, err := b.of(words.Speaker{Lang: words.English, Units: words.Millimetres, Unbroken: true}, true)
	if err != nil {
		return err
	}
	for _, name := range declared {
		if bk[name] == nil {
			return fmt.Errorf("page %q has no template", name)
		}
	}
	for name, t := range bk {
		if !slices.Contains(declared, name) {
			return fmt.Errorf("template %q belongs to no page", name)
		}
		for _, part := range []string{"title", "content"} {
			if t.Lookup(part) == nil {
				return fmt.Errorf("template %q defines no %q", name, part)
			}
		}
	}
	return nil
}
