package pages

import (
	"html/template"
	"sync"

	"thatch/web"
	"thatch/web/words"
)

// Outside are templates of pages that strangers see, without the salon's own layout: parsed once a way of speaking.
type Outside struct {
	files []string
	mu    sync.Mutex
	all   map[string]*template.Template
}

// NewOutside takes patterns below the folder of templates; the parts of all pages are there too. It fails where one does
// not parse.
func NewOutside(files ...string) (*Outside, error) {
	o := &Outside{files: append([]string{"parts/*.html"}, files...), all: map[string]*template.Template{}}
	_, err := o.Of(words.Speaker{Lang: words.English})
	return o, err
}

// Of is the templates in the words of sp.
func (o *Outside) Of(sp words.Speaker) (*template.Template, error) {
	key := sp.Lang + "|" + string(sp.Units)
	if sp.Zone != nil {
		key += "|" + sp.Zone.String()
	}
	o.mu.Lock()
	defer o.mu.Unlock()
	if t := o.all[key]; t != nil {
		return t, nil
	}
	made := newReady() // the part that draws a dog asks for it
	t, err := template.New("outside").Funcs(funcs(sp, false)).Funcs(made.funcs(sp)).ParseFS(web.Templates(), o.files...)
	made.parts = t
	if err == nil {
		if len(o.all) >= 16 {
			clear(o.all)
		}
		o.all[key] = t
	}
	return t, err
}
