package salon

import (
	"context"
	"encoding/base64"
	"errors"
	"strings"
	"testing"
	"time"

	"thatch/timeline"
)

var fromShop = Knock{Addr: shop}

func faultKey(err error) string {
	var f *timeline.Fault
	if errors.As(err, &f) {
		return f.Say.Key
	}
	return ""
}

func forward(c *clock, d time.Duration) { c.at.Add(int64(d / time.Second)) }

// theOwner is a salon's first.
func theOwner(t *testing.T, s *Salon) timeline.Person {
	t.Helper()
	return must(s.OwnerByCode(t.Context(), must(s.MakeOwnerCode(t.Context(), OwnerCodeHolds)), "Ada Lovage", "a heron on the weir", Knock{Addr: here}))
}

func joined(t *testing.T, s *Salon, name string, role timeline.Role) timeline.Person {
	t.Helper()
	token, _, err := s.Invite(t.Context(), name, role)
	if err != nil {
		t.Fatal(err)
	}
	return must(s.Join(t.Context(), token, name, "two otters by the mill"))
}

func TestTheFirstOwnersCodeIsForOnceAndForADay(t *testing.T) {
	s, c := opened(t)
	ctx := t.Context()
	code := must(s.MakeOwnerCode(ctx, OwnerCodeHolds))
	if groups := strings.Split(code, "-"); len(groups) != 8 || len(code) != 23 || code == must(s.MakeOwnerCode(ctx, OwnerCodeHolds)) {
		t.Errorf("the code is %q", code)
	}
	if _, err := s.OwnerByCode(ctx, code, "Ada", "a heron on the weir", Knock{Addr: here}); faultKey(err) != "fault.store.not_found.owner_code" {
		t.Errorf("the code before: %v", err)
	}
	code = must(s.MakeOwnerCode(ctx, OwnerCodeHolds))
	forward(c, OwnerCodeHolds)
	if _, err := s.OwnerByCode(ctx, code, "Ada", "a heron on the weir", Knock{Addr: here}); faultKey(err) != "fault.store.not_found.owner_code" {
		t.Errorf("a day later: %v", err)
	}
	code = must(s.MakeOwnerCode(ctx, OwnerCodeHolds))
	typed := strings.NewReplacer("0", "O", "1", "L", "-", " ").Replace(strings.ToUpper(code))
	ada, err := s.OwnerByCode(ctx, typed, "  Ada   Lovage ", "a heron on the weir", Knock{Addr: here})
	if err != nil || ada.Name != "Ada Lovage" || ada.Role != timeline.Owner || ada.PasswordHash != "" {
		t.Fatalf("typed as %q: %+v, %v", typed, ada, err)
	}
	if _, err := s.OwnerByCode(ctx, code, "Eve", "an egret in the reeds", Knock{Addr: here}); err == nil {
		t.Error("the code makes a second owner")
	}
}

func TestAnOwnerWhoForgotHerPasswordGetsInByAFreshCode(t *testing.T) {
	s, c := opened(t)
	ctx := t.Context()
	ada := theOwner(t, s)
	joined(t, s, "Bo", timeline.Groomer)
	code := must(s.MakeOwnerCode(ctx, FreshCodeHolds))
	for name, want := range map[string]string{"Bo": "fault.people.no_owner_named", "Eve": "fault.people.no_owner_named", "": "fault.people.name"} {
		if _, err := s.OwnerByCode(ctx, code, name, "four wrens along a lane", Knock{Addr: here}); faultKey(err) != want {
			t.Errorf("%q: %v", name, err)
		}
	}
	if p, err := s.OwnerByCode(ctx, code, "ada lovage", "four wrens along a lane", Knock{Addr: here}); err != nil || p.ID != ada.ID {
		t.Fatalf("%+v, %v", p, err)
	}
	if _, err := s.SignIn(ctx, "Ada Lovage", "a heron on the weir", fromShop); faultKey(err) != "fault.signin.wrong" {
		t.Errorf("the old password: %v", err)
	}
	if p, err := s.SignIn(ctx, "ADA  lovage", "four wrens along a lane", fromShop); err != nil || p.ID != ada.ID || p.PasswordHash != "" {
		t.Errorf("the new one: %+v, %v", p, err)
	}
	code = must(s.MakeOwnerCode(ctx, FreshCodeHolds))
	forward(c, FreshCodeHolds)
	if _, err := s.OwnerByCode(ctx, code, "Ada Lovage", "five larks over a field", Knock{Addr: here}); err == nil {
		t.Error("an hour later the fresh code is good")
	}
}

func TestAnInvitationIsGoodForAWeekAndForOne(t *testing.T) {
	for _, c := range []struct {
		name string
		do   func(*Salon, *clock, timeline.ID)
		good bool
	}{
		{"at once", func(*Salon, *clock, timeline.ID) {}, true},
		{"after six days", func(_ *Salon, c *clock, _ timeline.ID) { forward(c, 6*24*time.Hour) }, true},
		{"after seven", func(_ *Salon, c *clock, _ timeline.ID) { forward(c, 7*24*time.Hour) }, false},
		{"withdrawn", func(s *Salon, _ *clock, id timeline.ID) { ok(s.WithdrawInvitation(context.Background(), id)) }, false},
	} {
		s, clk := opened(t)
		ctx := t.Context()
		if _, _, err := s.Invite(ctx, "Bo", timeline.Groomer); faultKey(err) != "fault.people.owner_first" {
			t.Errorf("without an owner: %v", err)
		}
		theOwner(t, s)
		token, v, err := s.Invite(ctx, "Bo", timeline.Groomer)
		if raw, _ := base64.RawURLEncoding.DecodeString(token); err != nil || len(raw)*8 < 128 || strings.Contains(v.TokenHash, token) {
			t.Fatalf("%q, %v", token, err)
		}
		c.do(s, clk, v.ID)
		p, err := s.Join(ctx, token, "Bo", "two otters by the mill")
		if c.good != (err == nil) || c.good && p.Role != timeline.Groomer || !c.good && faultKey(err) != "fault.store.not_found.invitation" {
			t.Errorf("%s: %+v, %v", c.name, p, err)
		}
		if _, err := s.Join(ctx, token, "Cy", "two otters by the mill"); faultKey(err) != "fault.store.not_found.invitation" {
			t.Errorf("%s, a second time: %v", c.name, err)
		}
		if n := len(must(s.Invitations(ctx))); n != 0 {
			t.Errorf("%s: %d are open", c.name, n)
		}
	}
	s, _ := opened(t)
	theOwner(t, s)
	if _, _, err := s.Invite(t.Context(), "Eve", timeline.Owner); timeline.KindOf(err) != timeline.Invalid {
		t.Errorf("an owner by invitation: %v", err)
	}
	for _, token := range []string{"", "x", strings.Repeat("A", 43)} {
		if _, err := s.Invited(t.Context(), token); faultKey(err) != "fault.store.not_found.invitation" {
			t.Errorf("%q: %v", token, err)
		}
	}
}

func TestNamesAreForOne(t *testing.T) {
	s, _ := opened(t)
	theOwner(t, s)
	bo := joined(t, s, "Bo", timeline.Groomer)
	token, _, _ := s.Invite(t.Context(), "", timeline.Reader)
	if _, err := s.Join(t.Context(), token, " bO ", "two otters by the mill"); faultKey(err) != "fault.store.person_exists" {
		t.Errorf("a second Bo: %v", err)
	}
	if _, err := s.Join(t.Context(), token, "Cy", "two otters by the mill"); err != nil {
		t.Errorf("what was refused has used up the invitation: %v", err)
	}
	if _, err := s.RenamePerson(t.Context(), bo.ID, bo.Rev, "CY"); faultKey(err) != "fault.store.person_exists" {
		t.Errorf("%v", err)
	}
	if p := must(s.RenamePerson(t.Context(), bo.ID, bo.Rev, "BO")); p.Name != "BO" {
		t.Errorf("%+v", p)
	}
	if _, err := s.RenamePerson(t.Context(), bo.ID, bo.Rev, "Bo"); timeline.KindOf(err) != timeline.Conflict {
		t.Errorf("from an old version: %v", err)
	}
}

func TestAHashOfOldParametersIsMadeAnewAtTheNextSignIn(t *testing.T) {
	s, _ := opened(t)
	ctx := t.Context()
	ada := theOwner(t, s)
	weak := hashing{memoryKiB: 64, passes: 1, lanes: 1}
	salt := []byte("somesaltsomesalt")
	ok(s.st.ChangePassword(ctx, ada.ID, weak.phc(salt, weak.key("a heron on the weir", salt, keyBytes)), ""))
	if _, err := s.SignIn(ctx, "Ada Lovage", "a heron on the weir!", fromShop); err == nil {
		t.Error("a wrong password is right")
	}
	if p := must(s.st.Person(ctx, ada.ID)); !strings.Contains(p.PasswordHash, "m=64,") {
		t.Error("a wrong password made the hash anew")
	}
	must(s.SignIn(ctx, "Ada Lovage", "a heron on the weir", fromShop))
	if p := must(s.st.Person(ctx, ada.ID)); !strings.Contains(p.PasswordHash, "$m=19456,t=2,p=1$") {
		t.Errorf("%s", p.PasswordHash)
	}
	must(s.SignIn(ctx, "Ada Lovage", "a heron on the weir", fromShop))
}

func TestThePasswordIsNeededForANewOne(t *testing.T) {
	s, _ := opened(t)
	ctx := t.Context()
	ada := theOwner(t, s)
	for name, c := range map[string]struct{ old, fresh, want string }{
		"a wrong one":        {"a heron on the weird", "four wrens along a lane", "fault.password.wrong"},
		"none":               {"", "four wrens along a lane", "fault.password.wrong"},
		"one that is short":  {"a heron on the weir", "four wrens", "fault.password.short"},
		"one with her name":  {"a heron on the weir", "Ada Lovage 1!", "fault.password.easy"},
		"one beyond measure": {"a heron on the weir", strings.Repeat("four wrens along a lane ", 11), "fault.password.long"},
	} {
		if err := s.ChangePassword(ctx, ada.ID, c.old, c.fresh, Knock{Addr: addrNumber(len(name))}, ""); faultKey(err) != c.want {
			t.Errorf("%s: %v", name, err)
		}
	}
	ok(s.ChangePassword(ctx, ada.ID, "a heron on the weir", "four wrens along a lane", Knock{Addr: hotel}, ""))
}

// The same simulation as the throttle's, through the whole use case, with real hashes: an hour of wrong passwords from two
// hundred addresses, and the owner in her own browser in the midst of it.
func TestAnHourOfWrongPasswordsTestsTwentyAtMost(t *testing.T) {
	s, c := opened(t)
	ctx := t.Context()
	ada := theOwner(t, s)
	browser := must(s.KnowBrowser(ctx, ada.ID, ""))
	tested := 0
	for i := range 600 {
		from := Knock{Addr: addrNumber(i % 200)}
		if i%3 == 0 {
			from.Browser = newToken() // one that nobody knows
		}
		_, err := s.SignIn(ctx, "Ada Lovage", "wrong wrong wrong", from)
		switch faultKey(err) {
		case "fault.signin.wrong":
			tested++
		case "fault.signin.wait":
			var f *timeline.Fault
			if errors.As(err, &f); f.Wait <= 0 || f.Wait > 15*time.Minute || f.Kind != timeline.TooMany {
				t.Fatalf("%+v", f)
			}
		default:
			t.Fatal(err)
		}
		if i == 300 {
			if _, err := s.SignIn(ctx, "Ada Lovage", "a heron on the weir", Knock{Addr: addrNumber(7), Browser: browser}); err != nil {
				t.Errorf("the owner in her own browser: %v", err)
			}
		}
		forward(c, 6*time.Second)
	}
	if tested > 20 || tested < 5 {
		t.Errorf("%d wrong passwords were tested in an hour", tested)
	}
	t.Logf("%d tested", tested)
}

func TestATokenOfAProgramIsKeptAsAHashAndTouchedOnceAMinute(t *testing.T) {
	s, c := opened(t)
	ctx := t.Context()
	bo := func() timeline.Person { theOwner(t, s); return joined(t, s, "Bo", timeline.Groomer) }()
	secret, v, err := s.MakeToken(ctx, bo.ID, "The camera", timeline.ScopePhotos, 0)
	if err != nil || len(secret) != len(tokenPrefix)+43 || v.TokenHash == secret || !v.Expires.Equal(v.Made.Add(90*24*time.Hour)) {
		t.Fatalf("%+v, %v", v, err)
	}
	used := func() time.Time { return must(s.Tokens(ctx, bo.ID))[0].Used }
	who := must(s.ByToken(ctx, secret))
	first := used()
	if who.Person != bo.ID || who.Token != v.ID || first.IsZero() {
		t.Errorf("%+v, used %v", who, first)
	}
	forward(c, 59*time.Second)
	must(s.ByToken(ctx, secret))
	if !used().Equal(first) {
		t.Error("written again within a minute")
	}
	forward(c, 2*time.Second)
	must(s.ByToken(ctx, secret))
	if used().Equal(first) {
		t.Error("not written after a minute")
	}
	for _, bad := range []struct {
		name  string
		scope timeline.Scope
		days  int
	}{{"", timeline.ScopeRead, 1}, {"x", "all", 1}, {"x", timeline.ScopeRead, 367}, {"x", timeline.ScopeRead, -1}} {
		if _, _, err := s.MakeToken(ctx, bo.ID, bad.name, bad.scope, bad.days); timeline.KindOf(err) != timeline.Invalid {
			t.Errorf("%+v: %v", bad, err)
		}
	}
	p := must(s.Person(ctx, bo.ID))
	must(s.ChangeRole(ctx, bo.ID, p.Rev, timeline.Reader))
	if who := must(s.ByToken(ctx, secret)); who.Role != timeline.Reader {
		t.Errorf("after her role is another the token is of a %s", who.Role)
	}
	forward(c, 90*24*time.Hour)
	if _, err := s.ByToken(ctx, secret); timeline.KindOf(err) != timeline.SignedOut {
		t.Errorf("after ninety days: %v", err)
	}
	if n := len(must(s.Tokens(ctx, bo.ID))); n != 0 {
		t.Errorf("%d tokens are listed", n)
	}
}

func TestTheLogOfChangesIsReadByPages(t *testing.T) {
	s, _ := opened(t)
	ada := theOwner(t, s)
	ctx := timeline.WithVisitor(t.Context(), timeline.Visitor{Person: ada.ID, Name: ada.Name, Role: ada.Role})
	d := must(s.CreateDog(ctx, NewDog{Name: "Wisp"}))
	v := must(s.OpenSession(ctx, d.ID, must(s.Today(ctx))))
	ok(s.TrashSession(ctx, v.ID))
	must(s.AddReadings(ctx, d.ID, "", must(s.Today(ctx)), map[timeline.Zone]float64{timeline.Back: 21}, true))
	nobody := timeline.WithVisitor(t.Context(), timeline.Visitor{Role: timeline.Owner})
	ok(s.TrashDog(nobody, d.ID))
	ok(s.RestoreDog(timeline.WithVisitor(t.Context(), CommandLine), d.ID))
	page := must(s.Changes(ctx, ChangesOf{}))
	var got []string
	for _, l := range page.Lines {
		got = append(got, l.Name+l.Known.Key+": "+l.Op+" "+l.Label)
	}
	want := []string{
		"command linechanges.who.command: restore dog Wisp", "changes.who.nobody: trash dog Wisp", "Ada Lovage: add readings Wisp", "Ada Lovage: trash session Wisp", "Ada Lovage: create session Wisp",
		"Ada Lovage: create dog Wisp", "Ada Lovage: create person Ada Lovage",
	}
	if strings.Join(got, "\n") != strings.Join(want, "\n") || page.More != 0 {
		t.Errorf("%s\nmore %d", strings.Join(got, "\n"), page.More)
	}
	if l := page.Lines[4]; l.On != v.On || !l.Gone || l.Dog != d.ID {
		t.Errorf("the session's line is %+v", l)
	}
	for i := range 2*changesAPage + 3 {
		_ = i
		ok(s.st.Note(ctx, "sign in "+string(ada.ID), ""))
	}
	n, before, pages := 0, int64(0), 0
	seen := map[int64]bool{}
	for {
		p := must(s.Changes(ctx, ChangesOf{Before: before}))
		for _, l := range p.Lines {
			if seen[l.Number] {
				t.Fatalf("line %d twice", l.Number)
			}
			seen[l.Number] = true
		}
		n, pages = n+len(p.Lines), pages+1
		if before = p.More; before == 0 {
			break
		}
	}
	if n != 2*changesAPage+3+len(want) || pages != 3 {
		t.Errorf("%d lines on %d pages", n, pages)
	}
	for of, want := range map[ChangesOf]int{{Of: "dogs"}: 6, {Key: d.ID}: 4, {Person: ada.ID, Of: "dogs"}: 4} {
		if got := len(must(s.Changes(ctx, of)).Lines); got != want {
			t.Errorf("%+v: %d lines, want %d", of, got, want)
		}
	}
	if _, err := s.Changes(ctx, ChangesOf{Of: "cats"}); timeline.KindOf(err) != timeline.Invalid {
		t.Errorf("%v", err)
	}
}

// An unknown name is hashed like a known one: with every turn taken, both are told that the salon is busy, and neither
// try counts.
func TestAnUnknownNameIsHashedLikeAKnownOne(t *testing.T) {
	s, _ := opened(t)
	theOwner(t, s)
	s.hashes.wait = time.Millisecond
	var free []func()
	for range hashesAtOnce {
		free = append(free, must(s.hashes.turn(t.Context())))
	}
	for _, name := range []string{"Ada Lovage", "Nobody"} {
		for range 10 {
			if _, err := s.SignIn(t.Context(), name, "wrong wrong wrong", fromShop); faultKey(err) != "fault.password.busy" || timeline.KindOf(err) != timeline.Busy {
				t.Fatalf("%s: %v", name, err)
			}
		}
	}
	for _, f := range free {
		f()
	}
	for _, name := range []string{"Ada Lovage", "Nobody"} {
		if _, err := s.SignIn(t.Context(), name, "wrong wrong wrong", fromShop); faultKey(err) != "fault.signin.wrong" {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestASpareKeyWorksOnceAndForHerWhoseItIs(t *testing.T) {
	s, c := opened(t)
	ctx := t.Context()
	afar := Knock{Addr: addrNumber(77)}
	ada := theOwner(t, s)
	bo := joined(t, s, "Bo", timeline.Groomer)
	if _, err := s.MakeSpareKey(ctx, bo.ID); err == nil {
		t.Error("a groomer made a spare key")
	}
	old := must(s.MakeSpareKey(ctx, ada.ID))
	key := must(s.MakeSpareKey(ctx, ada.ID))
	if groups := strings.Split(key, "-"); len(groups) != 7 || len(key) != 34 || key == old {
		t.Errorf("the key is %q", key)
	}
	if made := must(s.SpareKeyMade(ctx, ada.ID)); made.IsZero() {
		t.Error("nobody knows when it was made")
	}
	for _, wrong := range []struct{ code, name, want string }{
		{old, "Ada Lovage", "fault.store.not_found.owner_code"},
		{key[:33] + "-", "Ada Lovage", "fault.store.not_found.owner_code"},
		{key, "Bo", "fault.people.no_owner_named"},
		{key, "Eve", "fault.people.no_owner_named"},
	} {
		if _, err := s.OwnerByCode(ctx, wrong.code, wrong.name, "four wrens along a lane", afar); faultKey(err) != wrong.want {
			t.Errorf("%s of %s: %v", wrong.code, wrong.name, err)
		}
	}
	forward(c, 3*365*24*time.Hour) // a drawer is opened years later
	typed := strings.NewReplacer("0", "o", "1", "i", "-", "").Replace(key)
	if p, err := s.OwnerByCode(ctx, typed, "ada lovage", "four wrens along a lane", afar); err != nil || p.ID != ada.ID {
		t.Fatalf("%+v, %v", p, err)
	}
	if _, err := s.SignIn(ctx, "Ada Lovage", "four wrens along a lane", fromShop); err != nil {
		t.Errorf("the new password: %v", err)
	}
	if _, err := s.OwnerByCode(ctx, key, "Ada Lovage", "five larks over a field", afar); faultKey(err) != "fault.store.not_found.owner_code" {
		t.Errorf("a second time: %v", err)
	}
	// Whoever learned her password may have made a key by it: a new password ends it.
	theirs := must(s.MakeSpareKey(ctx, ada.ID))
	if err := s.ChangePassword(ctx, ada.ID, "four wrens along a lane", "six dippers by a ford", afar, ""); err != nil {
		t.Fatal(err)
	}
	if _, err := s.OwnerByCode(ctx, theirs, "Ada Lovage", "five larks over a field", afar); faultKey(err) != "fault.store.not_found.owner_code" {
		t.Errorf("made before the new password: %v", err)
	}
	lost := must(s.MakeSpareKey(ctx, ada.ID))
	if err := s.EndSpareKey(ctx, ada.ID); err != nil {
		t.Fatal(err)
	}
	if _, err := s.OwnerByCode(ctx, lost, "Ada Lovage", "five larks over a field", afar); faultKey(err) != "fault.store.not_found.owner_code" {
		t.Errorf("of a lost paper: %v", err)
	}
}

// Who is no owner any more, or has no account, has no way in by paper.
func TestASpareKeyEndsWithTheOwnership(t *testing.T) {
	for name, end := range map[string]func(*Salon, timeline.Person) error{
		"made a groomer": func(s *Salon, p timeline.Person) error {
			_, err := s.ChangeRole(t.Context(), p.ID, p.Rev, timeline.Groomer)
			return err
		},
		"ended": func(s *Salon, p timeline.Person) error { _, err := s.EndPerson(t.Context(), p.ID); return err },
	} {
		s, _ := opened(t)
		ctx := t.Context()
		theOwner(t, s)
		di := joined(t, s, "Di", timeline.Groomer)
		di = must(s.ChangeRole(ctx, di.ID, di.Rev, timeline.Owner))
		key := must(s.MakeSpareKey(ctx, di.ID))
		if err := end(s, di); err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		if _, err := s.OwnerByCode(ctx, key, "Di", "four wrens along a lane", Knock{Addr: here}); faultKey(err) != "fault.store.not_found.owner_code" {
			t.Errorf("%s: %v", name, err)
		}
		if made := must(s.SpareKeyMade(ctx, di.ID)); !made.IsZero() {
			t.Errorf("%s: the key is kept", name)
		}
	}
}
