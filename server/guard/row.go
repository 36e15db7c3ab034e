// Package guard says who may do what. One table holds every route of the server; what is not in it is not served.
//
// It owns the decision and its order (who asks, how often, whether they may, how much they may send), and nothing of
// accounts: who asks is in the request's context (timeline.VisitorOf), put there by whoever knows cookies and tokens.
package guard

import (
	"net/http"
	"strings"

	"thatch/imaging"
	"thatch/timeline"
)

// Object is the kind of thing that a route acts on.
type Object string

// The kinds.
const (
	Salon    Object = "salon" // what is on today, and what belongs to no single thing
	Settings Object = "settings"
	Dog      Object = "dog"
	Photo    Object = "photo"
	Session  Object = "session"
	Show     Object = "show"
	Reading  Object = "reading"
	Heap     Object = "heap" // photos that wait for their dog
	Kind     Object = "kind" // of coat
	Check    Object = "check"
	Trash    Object = "trash"
	Link     Object = "link" // clients' pages, seen from the salon
	Shared   Object = "shared page"
	Person   Object = "person"
	Invite   Object = "invitation"
	SignIn   Object = "sign-in"
	Token    Object = "token"
	Audit    Object = "audit log"
	Backup   Object = "backup"
	Asset    Object = "asset"
	App      Object = "program on a phone" // what makes it one there
	Trust    Object = "certificate"
	Words    Object = "language of a browser"
)

// Anyone may, signed in or not. It is a word of its own so that a row that forgets to say who may lets nobody in.
const Anyone timeline.Role = "anyone"

// Answer is the form that a route answers in, which decides what a stranger is told.
type Answer string

// The forms.
const (
	Page Answer = "page" // a stranger is sent to sign in
	File Answer = "file"
	Act  Answer = "act" // a form that changes something
	JSON Answer = "json"
)

// Bytes that a body may have.
const (
	NoBody   = 64 << 10 // of a GET: never read, only not worth an error
	FormBody = 1 << 20  //
	// SmallPicture is one of a camera that is held; its handler allows less, and says so in words.
	SmallPicture = 512 << 10
	OneFile      = imaging.MaxBytes + 64<<10 // and the form around it
	Files        = 200 * OneFile             // the most that one form of photos may hold
)

// Row is one route and who may use it.
type Row struct {
	Method  string
	Pattern string // as chi writes it, from the root
	Object  Object
	Least   timeline.Role // the least that a person must be; Anyone: strangers too
	Own     bool          // only what is the asker's own, whatever her role: another's is as if it were not there
	Answer  Answer
	Scope   timeline.Scope // the least that a token must be allowed; "": no token gets here
	Body    int64          // bytes
}

func page(pattern string, o Object, least timeline.Role) Row {
	return Row{Method: http.MethodGet, Pattern: pattern, Object: o, Least: least, Answer: Page, Body: NoBody}
}

func file(pattern string, o Object, least timeline.Role) Row {
	return Row{Method: http.MethodGet, Pattern: pattern, Object: o, Least: least, Answer: File, Body: NoBody}
}

func act(pattern string, o Object, least timeline.Role) Row {
	return Row{Method: http.MethodPost, Pattern: pattern, Object: o, Least: least, Answer: Act, Body: FormBody}
}

// small is an act whose body is one small picture.
func small(pattern string, o Object, least timeline.Role) Row {
	r := act(pattern, o, least)
	r.Body = SmallPicture
	return r
}

func upload(pattern string, o Object, least timeline.Role) Row {
	r := act(pattern, o, least)
	r.Body = Files
	return r
}

func api(method, pattern string, o Object, least timeline.Role, scope timeline.Scope, body int64) Row {
	return Row{Method: method, Pattern: "/api/v1" + pattern, Object: o, Least: least, Answer: JSON, Scope: scope, Body: body}
}

// own narrows a row to what is the asker's own.
func own(r Row) Row { r.Own = true; return r }

// rank orders the roles; 0 is nobody's.
func rank(r timeline.Role) int {
	switch r {
	case Anyone:
		return 1
	case timeline.Reader:
		return 2
	case timeline.Groomer:
		return 3
	case timeline.Owner:
		return 4
	}
	return 0
}

// secret tells whether the address itself lets in: then it is not to be told to the next page, nor found by a search.
func (r Row) secret() bool { return r.Least == Anyone && strings.Contains(r.Pattern, "{token}") }

// tried tells whether a stranger may be guessing here: links, invitations, passwords, codes.
func (r Row) tried() bool { return r.Least == Anyone && (r.secret() || r.Answer == Act) }
