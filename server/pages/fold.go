package pages

import (
	"html/template"
	"regexp"
	"strconv"
	"text/template/parse"

	"thatch/web/words"
)

// A book speaks to one kind of reader in one language, so much of its templates is known when it is made: words without
// values in them, signs, addresses of our own files, and what only those see who may change something. It is put in then and
// not for every page: a third of a page's time went into calling for it.
//
// Words and signs stand in text and in quoted attributes only, which a test sees to, and are escaped for both. An address of
// ours has nothing in it to escape anywhere but in a script.

// fold puts in what is known. The templates must not have been executed yet: what escapes them looks at the folded text.
func fold(set *template.Template, sp words.Speaker, mayChange bool) {
	f := folder{sp, mayChange}
	for _, t := range set.Templates() {
		if t.Tree != nil {
			f.list(t.Tree.Root)
		}
	}
}

// plainURL is an address in which there is nothing to escape, in text or in an address.
var plainURL = regexp.MustCompile(`^[A-Za-z0-9/._-]+$`)

type folder struct {
	sp        words.Speaker
	mayChange bool
}

func (f folder) list(l *parse.ListNode) {
	if l == nil {
		return
	}
	for i, n := range l.Nodes {
		switch n := n.(type) {
		case *parse.ActionNode:
			f.pipe(n.Pipe)
			if text, ok := f.known(n.Pipe); ok {
				l.Nodes[i] = &parse.TextNode{NodeType: parse.NodeText, Pos: n.Pos, Text: []byte(text)}
			}
		case *parse.TemplateNode:
			f.pipe(n.Pipe)
			if call, ok := readied(n); ok {
				l.Nodes[i] = call
			}
		case *parse.IfNode:
			f.branch(&n.BranchNode)
			if called(n.Pipe, "mayChange", 0) {
				l.Nodes[i] = f.chosen(n)
			}
		case *parse.WithNode:
			f.branch(&n.BranchNode)
		case *parse.RangeNode:
			f.branch(&n.BranchNode)
		}
	}
}

// pipe puts what is known into what is handed on: words without values, and who may change something.
func (f folder) pipe(p *parse.PipeNode) {
	if p == nil {
		return
	}
	for _, cmd := range p.Cmds {
		for i, arg := range cmd.Args {
			switch arg := arg.(type) {
			case *parse.PipeNode:
				if f.pipe(arg); called(arg, "t", 1) {
					text := f.sp.T(argument(arg))
					cmd.Args[i] = &parse.StringNode{NodeType: parse.NodeString, Pos: arg.Pos, Quoted: strconv.Quote(text), Text: text}
				}
			case *parse.IdentifierNode:
				if i > 0 && arg.Ident == "mayChange" {
					cmd.Args[i] = &parse.BoolNode{NodeType: parse.NodeBool, Pos: arg.Pos, True: f.mayChange}
				}
			}
		}
	}
}

func (f folder) branch(b *parse.BranchNode) {
	f.pipe(b.Pipe)
	f.list(b.List)
	f.list(b.ElseList)
}

func (f folder) chosen(n *parse.IfNode) parse.Node {
	list := n.List
	if !f.mayChange {
		list = n.ElseList
	}
	if list == nil {
		return &parse.TextNode{NodeType: parse.NodeText, Pos: n.Pos}
	}
	return list
}

// known is what a pipeline writes, where that is known.
func (f folder) known(p *parse.PipeNode) (text string, ok bool) {
	switch {
	case called(p, "t", 1):
		return template.HTMLEscapeString(f.sp.T(argument(p))), true
	case called(p, "icon", 1):
		sign, err := icon(argument(p))
		return string(sign), err == nil // a sign that is none is an error of the page, as before
	case called(p, "asset", 1):
		url, err := asset(argument(p))
		return url, err == nil && plainURL.MatchString(url)
	}
	return "", false
}

// called reports whether a pipeline is one call of a function with so many constant texts, and nothing else.
func called(p *parse.PipeNode, name string, args int) bool {
	if len(p.Decl) > 0 || len(p.Cmds) != 1 || len(p.Cmds[0].Args) != 1+args {
		return false
	}
	id, ok := p.Cmds[0].Args[0].(*parse.IdentifierNode)
	if !ok || id.Ident != name {
		return false
	}
	for _, a := range p.Cmds[0].Args[1:] {
		if _, ok := a.(*parse.StringNode); !ok {
			return false
		}
	}
	return true
}

func argument(p *parse.PipeNode) string { return p.Cmds[0].Args[1].(*parse.StringNode).Text }
