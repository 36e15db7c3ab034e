package pages

import (
	"bytes"
	"html/template"
	"reflect"
	"strconv"
	"sync"
	"text/template/parse"

	"thatch/web/words"
)

// Some parts stand on a page by the dozen and are made of a few plain values: a tap of a set, a verdict, one zone of the drawn
// dog, which is the same for every dog. Each is made once for its values and then put in as it is. Such a part knows nothing
// but what it is given and the book it belongs to.
var readyParts = map[string]bool{
	"chip": true, "wordchip": true, "zonechip": true, "verdict": true,
	"dogunder": true, "nav-dog": true, "nav-thumb": true,
}

// drawnParts are ready too, and asked for by dogZones.
var drawnParts = map[string]bool{"dogzone": true, "dogover": true, "dogsign": true}

const (
	readyValues = 12      // names and values that a part is given at most
	readyBytes  = 8 << 20 // of one book, keys and all; people's own words can be among the values
)

// ready keeps the parts of one book.
type ready struct {
	parts *template.Template

	mu    sync.RWMutex
	made  map[readyKey]template.HTML
	bytes int
}

type readyKey struct {
	part string
	with [readyValues]any
}

func newReady() *ready { return &ready{made: map[readyKey]template.HTML{}} }

// funcs are those of a book's templates that ask for ready parts.
func (r *ready) funcs(sp words.Speaker) template.FuncMap {
	return template.FuncMap{
		"ready":    r.part,
		"dogzones": func(d dogDrawing) (template.HTML, error) { return dogZones(sp, r, d) },
	}
}

// part is a template with one value, or with names and values as dict takes them. What is not made of plain values is made
// anew.
func (r *ready) part(name string, with ...any) (template.HTML, error) {
	key, plain := keyOfPart(name, with)
	if plain {
		r.mu.RLock()
		out, ok := r.made[key]
		r.mu.RUnlock()
		if ok {
			return out, nil
		}
	}
	var data any
	if len(with) == 1 {
		data = with[0]
	} else {
		var err error
		if data, err = dict(with...); err != nil {
			return "", err
		}
	}
	var b bytes.Buffer
	if err := r.parts.ExecuteTemplate(&b, name, data); err != nil {
		return "", err
	}
	out := template.HTML(b.String()) // html/template has just escaped it
	if plain {
		r.keep(key, out)
	}
	return out, nil
}

func (r *ready) keep(key readyKey, out template.HTML) {
	r.mu.Lock()
	defer r.mu.Unlock()
	if _, ok := r.made[key]; ok {
		return
	}
	size := key.bytes() + len(out)
	if r.bytes += size; r.bytes > readyBytes {
		clear(r.made)
		r.bytes = size
	}
	r.made[key] = out
}

func (k readyKey) bytes() int {
	n := int(reflect.TypeFor[readyKey]().Size()) + len(k.part)
	for _, v := range k.with {
		if s := reflect.ValueOf(v); s.Kind() == reflect.String {
			n += s.Len()
		}
	}
	return n
}

// keyOfPart reports whether all values are of a kind that is wholly told by comparing it.
func keyOfPart(name string, with []any) (key readyKey, plain bool) {
	if len(with) > readyValues {
		return key, false
	}
	key.part = name
	for i, v := range with {
		switch k := reflect.ValueOf(v).Kind(); {
		case k == reflect.String, reflect.Bool <= k && k <= reflect.Float64:
			key.with[i] = v
		default:
			return key, false
		}
	}
	return key, true
}

// readied is the call of a part instead of its template, where it is one of those.
func readied(n *parse.TemplateNode) (parse.Node, bool) {
	if !readyParts[n.Name] || n.Pipe == nil || len(n.Pipe.Decl) > 0 {
		return nil, false
	}
	args := []parse.Node{
		parse.NewIdentifier("ready").SetPos(n.Pos),
		&parse.StringNode{NodeType: parse.NodeString, Pos: n.Pos, Quoted: strconv.Quote(n.Name), Text: n.Name},
	}
	if pairs, ok := dictOf(n.Pipe); ok {
		args = append(args, pairs...)
	} else {
		args = append(args, n.Pipe)
	}
	call := &parse.CommandNode{NodeType: parse.NodeCommand, Pos: n.Pos, Args: args}
	pipe := &parse.PipeNode{NodeType: parse.NodePipe, Pos: n.Pos, Line: n.Line, Cmds: []*parse.CommandNode{call}}
	return &parse.ActionNode{NodeType: parse.NodeAction, Pos: n.Pos, Line: n.Line, Pipe: pipe}, true
}

// dictOf are the names and values of a pipeline that only calls dict.
func dictOf(p *parse.PipeNode) ([]parse.Node, bool) {
	if len(p.Cmds) != 1 {
		return nil, false
	}
	if len(p.Cmds[0].Args) == 1 { // in parentheses
		if inner, ok := p.Cmds[0].Args[0].(*parse.PipeNode); ok && len(inner.Decl) == 0 {
			return dictOf(inner)
		}
		return nil, false
	}
	id, ok := p.Cmds[0].Args[0].(*parse.IdentifierNode)
	if !ok || id.Ident != "dict" {
		return nil, false
	}
	return p.Cmds[0].Args[1:], true
}
