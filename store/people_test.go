package store

import (
	"context"
	"strings"
	"testing"
	"time"

	tl "thatch/timeline"
)

func owner(t *testing.T, s *Store) tl.Person {
	t.Helper()
	if err := s.MakeOwnerCode(context.Background(), "code", noon.Add(24*time.Hour)); err != nil {
		t.Fatal(err)
	}
	return must(s.CreateOwner(context.Background(), "code", tl.Person{Name: "Ada  Lovage", PasswordHash: "h1"}))(t)
}

func TestTheOwnersCodeWorksOnce(t *testing.T) {
	s, ctx := newStore(t, Options{}), context.Background()
	if any := must(s.AnyPerson(ctx))(t); any {
		t.Error("somebody is here before anybody came")
	}
	_, err := s.CreateOwner(ctx, "code", tl.Person{Name: "Ada", PasswordHash: "h"})
	wantKind(t, err, tl.NotFound, "owner_code")
	ada := owner(t, s)
	if ada.Name != "Ada Lovage" || ada.Role != tl.Owner || !must(s.AnyPerson(ctx))(t) || must(s.OwnerCode(ctx))(t) != "" {
		t.Errorf("%+v", ada)
	}
	_, err = s.CreateOwner(ctx, "code", tl.Person{Name: "Eve", PasswordHash: "h"})
	wantKind(t, err, tl.NotFound, "owner_code")

	if err := s.MakeOwnerCode(ctx, "old", noon); err != nil {
		t.Fatal(err)
	}
	wantKind(t, s.SetPasswordByCode(ctx, "old", ada, "h2"), tl.NotFound, "owner_code")
	if err := s.MakeOwnerCode(ctx, "new", noon.Add(time.Hour)); err != nil {
		t.Fatal(err)
	}
	_, err = s.CreateOwner(ctx, "new", tl.Person{Name: "Eve", PasswordHash: "h"})
	wantKind(t, err, tl.NotFound, "owner_code") // there is an owner
	if err := s.SetPasswordByCode(ctx, "new", ada, "h2"); err != nil {
		t.Fatal(err)
	}
	if p := must(s.PersonByName(ctx, " ada lovage"))(t); p.PasswordHash != "h2" {
		t.Errorf("%+v", p)
	}
}

func TestAnInvitationIsUsedOnce(t *testing.T) {
	for _, c := range []struct {
		name    string
		expires time.Duration
		before  func(*Store, tl.ID) error
		ok      bool
	}{
		{"in time", time.Hour, nil, true},
		{"expired", time.Second, nil, false},
		{"withdrawn", time.Hour, func(s *Store, id tl.ID) error { return s.WithdrawInvitation(context.Background(), id) }, false},
	} {
		s, ctx := newStore(t, Options{}), context.Background()
		v := must(s.CreateInvitation(ctx, tl.Invitation{For: "Bo", Role: tl.Reader, TokenHash: "x", Expires: noon.Add(c.expires)}))(t)
		if c.before != nil {
			if err := c.before(s, v.ID); err != nil {
				t.Fatal(err)
			}
		}
		p, err := s.Join(ctx, "x", tl.Person{Name: "Bo", PasswordHash: "h", Role: tl.Owner})
		if !c.ok {
			wantKind(t, err, tl.NotFound, "invitation")
			if must(s.AnyPerson(ctx))(t) {
				t.Errorf("%s: the person is left behind", c.name)
			}
			continue
		}
		if err != nil || p.Role != tl.Reader {
			t.Errorf("%s: %+v, %v", c.name, p, err)
		}
		_, err = s.Join(ctx, "x", tl.Person{Name: "Cy", PasswordHash: "h"})
		wantKind(t, err, tl.NotFound, "invitation")
		if v = must(s.InvitationByHash(ctx, "x"))(t); v.Person != p.ID || v.Used.IsZero() {
			t.Errorf("%+v", v)
		}
	}
}

func TestWhoIsEndedIsOutAtOnce(t *testing.T) {
	s, ctx := newStore(t, Options{}), context.Background()
	ada := owner(t, s)
	_ = must(s.CreateInvitation(ctx, tl.Invitation{Role: tl.Groomer, TokenHash: "x", Expires: noon.Add(time.Hour)}))(t)
	bo := must(s.Join(ctx, "x", tl.Person{Name: "Bo", PasswordHash: "h"}))(t)
	later := noon.Add(12 * time.Hour)
	_ = must(s.CreateLogin(ctx, "l1", Login{SignIn: tl.SignIn{Person: bo.ID, Made: noon, Seen: noon, Expires: later}, Data: []byte{1}}))(t)
	_ = must(s.CreateLogin(ctx, "l2", Login{SignIn: tl.SignIn{Person: ada.ID, Made: noon, Seen: noon, Expires: later}, Data: []byte{1}}))(t)
	_ = must(s.CreateToken(ctx, tl.APIToken{Person: bo.ID, Name: "camera", Scope: tl.ScopePhotos, TokenHash: "t", Expires: later}))(t)
	if l := must(s.Login(ctx, "l1"))(t); l.Name != "Bo" || l.Role != tl.Groomer {
		t.Errorf("%+v", l)
	}
	_, err := s.EndPerson(ctx, ada.ID)
	wantKind(t, err, tl.Conflict, "last_owner")
	_, err = s.ChangeRole(ctx, ada.ID, ada.Rev, tl.Reader)
	wantKind(t, err, tl.Conflict, "last_owner")
	if l := must(s.Login(ctx, "l2"))(t); l.Role != tl.Owner {
		t.Error("what was refused has ended a sign-in")
	}
	_ = must(s.EndPerson(ctx, bo.ID))(t)
	_, err = s.Login(ctx, "l1")
	wantKind(t, err, tl.NotFound, "sign_in")
	if v := must(s.TokenByHash(ctx, "t"))(t); v.Ended.IsZero() {
		t.Error("the token of an ended person works")
	}
	if err := s.TouchLogin(ctx, "l1", nil, later); err != nil {
		t.Fatal(err)
	}
	_, err = s.Login(ctx, "l1")
	wantKind(t, err, tl.NotFound, "sign_in") // a request in flight does not bring it back
	_, err = s.PersonByName(ctx, "Bo")
	wantKind(t, err, tl.NotFound, "person")
	_ = must(s.CreateInvitation(ctx, tl.Invitation{Role: tl.Groomer, TokenHash: "y", Expires: noon.Add(time.Hour)}))(t)
	if again := must(s.Join(ctx, "y", tl.Person{Name: "bo", PasswordHash: "h"}))(t); again.ID == bo.ID {
		t.Error("the ended person is back")
	}
}

func TestANewPasswordEndsTheOtherSignIns(t *testing.T) {
	s, ctx := newStore(t, Options{}), context.Background()
	ada := owner(t, s)
	var ids []tl.ID
	for _, h := range []string{"a", "b", "c"} {
		ids = append(ids, must(s.CreateLogin(ctx, h, Login{SignIn: tl.SignIn{Person: ada.ID, Agent: h, Made: noon, Seen: noon, Expires: noon.Add(time.Hour)}, Data: []byte{1}}))(t).ID)
	}
	if err := s.KnowBrowser(ctx, "w", ada.ID); err != nil {
		t.Fatal(err)
	}
	if err := s.ChangePassword(ctx, ada.ID, "h2", ids[1]); err != nil {
		t.Fatal(err)
	}
	if got := must(s.Logins(ctx, ada.ID))(t); len(got) != 1 || got[0].Agent != "b" {
		t.Errorf("%+v", got)
	}
	if must(s.BrowserKnown(ctx, "w", ada.ID))(t) {
		t.Error("a browser of the old password is known")
	}
	if err := s.RehashPassword(ctx, ada.ID, "h1", "h3"); err != nil {
		t.Fatal(err)
	}
	if p := must(s.Person(ctx, ada.ID))(t); p.PasswordHash != "h2" {
		t.Error("the old password came back by a new hash")
	}
}

func TestOnlySoManyBrowsersAreKnown(t *testing.T) {
	s, ctx := newStore(t, Options{}), context.Background()
	ada := owner(t, s)
	for i := range browsersAPerson + 5 {
		if err := s.KnowBrowser(ctx, strings.Repeat("x", i+1), ada.ID); err != nil {
			t.Fatal(err)
		}
	}
	if must(s.BrowserKnown(ctx, "x", ada.ID))(t) || !must(s.BrowserKnown(ctx, strings.Repeat("x", browsersAPerson+5), ada.ID))(t) {
		t.Error("the oldest is known, or the newest is not")
	}
}

func TestTheLogOfChangesHoldsNoSecret(t *testing.T) {
	s, ctx := newStore(t, Options{}), tl.WithVisitor(context.Background(), tl.Visitor{Role: tl.Owner})
	const secret = "canary"
	if err := s.MakeOwnerCode(ctx, secret+"1", noon.Add(time.Hour)); err != nil {
		t.Fatal(err)
	}
	ada := must(s.CreateOwner(ctx, secret+"1", tl.Person{Name: "Ada", PasswordHash: secret + "2"}))(t)
	_ = must(s.CreateInvitation(ctx, tl.Invitation{For: "Bo", Role: tl.Groomer, TokenHash: secret + "3", Expires: noon.Add(time.Hour)}))(t)
	_ = must(s.Join(ctx, secret+"3", tl.Person{Name: "Bo", PasswordHash: secret + "4"}))(t)
	_ = must(s.CreateLogin(ctx, secret+"5", Login{SignIn: tl.SignIn{Person: ada.ID, Expires: noon.Add(time.Hour)}, Data: []byte(secret)}))(t)
	_ = must(s.CreateToken(ctx, tl.APIToken{Person: ada.ID, Name: "camera", Scope: tl.ScopeRead, TokenHash: secret + "6", Expires: noon.Add(time.Hour)}))(t)
	for _, err := range []error{s.ChangePassword(ctx, ada.ID, secret+"7", ""), s.KnowBrowser(ctx, secret+"8", ada.ID), s.DeleteLogin(ctx, ada.ID, secret+"5"), s.Note(ctx, "wrong passwords for "+string(ada.ID), "127.0.0.1")} {
		if err != nil {
			t.Fatal(err)
		}
	}
	got := must(s.Changes(ctx, ChangesOf{Limit: 100}))(t)
	if len(got) != 9 {
		t.Errorf("%d lines", len(got))
	}
	for _, c := range got {
		if strings.Contains(c.Op+c.Note+string(c.Key)+c.Name, secret) || verbs[c.Op] == "" && c.Op != "create owner code" {
			t.Errorf("%+v", c)
		}
	}
}
