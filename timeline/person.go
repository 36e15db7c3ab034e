package timeline

import (
	"context"
	"slices"
	"time"
)

// Role is what a person may do in the salon. An owner may do everything; a groomer everything but people, backups and
// the salon's settings; a reader looks and changes nothing.
type Role string

// The roles, from most to least.
const (
	Owner   Role = "owner"
	Groomer Role = "groomer"
	Reader  Role = "reader"
)

// Roles in order, the owner first.
func Roles() []Role { return []Role{Owner, Groomer, Reader} }

// Valid tells whether r is one of Roles.
func (r Role) Valid() bool { return slices.Contains(Roles(), r) }

// Scope is what a token for programs may do; it never exceeds what its person may.
type Scope string

// The scopes.
const (
	ScopeRead   Scope = "read"   // look at everything its person may see
	ScopePhotos Scope = "photos" // that, and hand in photos
)

// Scopes in order, the narrowest first.
func Scopes() []Scope { return []Scope{ScopeRead, ScopePhotos} }

// Visitor is who asks. Without accounts, on a loopback address, it is the owner without a Person.
type Visitor struct {
	Person ID
	Name   string // as the log of changes keeps it, for the person may be gone one day
	Role   Role
	Token  ID    // of the token for programs; "": a person at a browser
	Scope  Scope // of that token
}

type visitorKey struct{}

// WithVisitor carries v through the use cases down to the rows: who changed what is written beside the change itself.
func WithVisitor(ctx context.Context, v Visitor) context.Context {
	return context.WithValue(ctx, visitorKey{}, v)
}

// VisitorOf is who asks; false where the program itself is at work.
func VisitorOf(ctx context.Context) (Visitor, bool) {
	v, ok := ctx.Value(visitorKey{}).(Visitor)
	return v, ok
}

// Person has an account. PasswordHash is argon2id in the PHC string format, and never leaves the use cases.
type Person struct {
	ID           ID
	Rev          Rev
	Name         string // signs in with it, whatever its case and spacing
	Role         Role
	PasswordHash string
	Added        time.Time
	Ended        time.Time // zero: may sign in
}

// Invitation lets one person make her account, once. The token itself is told when it is made and kept nowhere.
type Invitation struct {
	ID        ID
	For       string
	Role      Role // Groomer or Reader
	TokenHash string
	Made      time.Time
	Expires   time.Time
	Withdrawn time.Time // zero: not
	Used      time.Time // zero: not yet
	Person    ID        // who came by it
}

// SignIn is a browser in which somebody is signed in.
type SignIn struct {
	ID      ID
	Person  ID
	Agent   string    // what the browser calls itself
	Made    time.Time // when the password was given
	Seen    time.Time // to within a minute
	Expires time.Time // unless it is seen before
}

// APIToken lets a program act for a person, within its Scope.
type APIToken struct {
	ID        ID
	Person    ID
	Name      string // what it is for
	Scope     Scope
	TokenHash string
	Made      time.Time
	Expires   time.Time
	Used      time.Time // to within a minute; zero: never
	Ended     time.Time // zero: not
}

// Change is a line of the log of changes.
type Change struct {
	Number int64 // rises with every line
	At     time.Time
	Person ID     // "": without an account
	Name   string // as it was then
	Token  ID     // of the token that was used; "": none
	Op     string // what was done: "update dog"
	Kind   string // what Key is of: "dog", "photo", "person" …; "": of nothing
	Key    ID
	Note   string // what else is worth knowing: the new role, an address; never a secret
}
