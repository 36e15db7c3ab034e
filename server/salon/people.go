package salon

import (
	"context"
	"crypto/rand"
	"crypto/subtle"
	"encoding/base64"
	"strings"
	"time"

	"thatch/store"
	"thatch/timeline"
)

const (
	inviteDays = 7
	codeChars  = 16 // of 32 letters and digits: 80 bits
	spareChars = 28 // 140 bits
	// OwnerCodeHolds is how long the code holds that “thatch serve” prints; the server prints another at its next start.
	OwnerCodeHolds = 24 * time.Hour
	// FreshCodeHolds is how long that of “thatch owner” holds: whoever asks for it stands at the computer.
	FreshCodeHolds = time.Hour
)

// crockford is Douglas Crockford's base 32: no i, l, o, u, so that a code is not misread.
const crockford = "0123456789abcdefghjkmnpqrstvwxyz"

// MakeOwnerCode makes the one-time code for the first owner, or for an owner who forgot her password: eight groups of two,
// told once. The one before it holds no longer.
func (s *Salon) MakeOwnerCode(ctx context.Context, holds time.Duration) (code string, err error) {
	code = randomCode(codeChars, 2)
	return code, s.st.MakeOwnerCode(ctx, hashOf(plainCode(code)), s.Now().Add(holds))
}

func randomCode(chars, group int) string {
	raw := make([]byte, chars)
	rand.Read(raw) // never fails: the program ends rather than go on without randomness
	var b strings.Builder
	for i, r := range raw {
		if i > 0 && i%group == 0 {
			b.WriteByte('-')
		}
		b.WriteByte(crockford[r&31])
	}
	return b.String()
}

// plainCode is a code as it was meant: whatever its case and grouping, with Crockford's readings of o, i and l.
func plainCode(typed string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case r == 'o':
			return '0'
		case r == 'i' || r == 'l':
			return '1'
		case strings.ContainsRune(crockford, r):
			return r
		case r == '-' || r == ' ' || r == '\t':
			return -1
		}
		return '?'
	}, strings.ToLower(strings.TrimSpace(typed)))
}

// AnyPerson tells whether there are accounts: until then whoever sits at the computer is the owner.
func (s *Salon) AnyPerson(ctx context.Context) (bool, error) {
	if s.peopled.Load() {
		return true, nil // nobody is ever deleted
	}
	any, err := s.st.AnyPerson(ctx)
	if any {
		s.peopled.Store(true)
	}
	return any, err
}

// OwnerByCode makes the first owner by the one-time code; where there are owners, it gives the one of that name a new
// password and ends her sign-ins. There her spare key does the same.
func (s *Salon) OwnerByCode(ctx context.Context, code, name, password string, from Knock) (timeline.Person, error) {
	plain := plainCode(code)
	spare := len(plain) > codeChars // a key with a letter missing too: its owner is told so, whatever strangers do with codes
	if wait := s.tries.takeCode(from.Addr, spare); wait > 0 {
		return timeline.Person{}, tooMany("use owner code", wait)
	}
	hash := hashOf(plain)
	holder, err := s.holderOf(ctx, hash, spare)
	if err != nil {
		return timeline.Person{}, err
	}
	if name, err = cleanPersonName(name); err != nil {
		return timeline.Person{}, err
	}
	people, err := s.st.People(ctx)
	if err != nil {
		return timeline.Person{}, err
	}
	var owner *timeline.Person
	owners := false
	for i, p := range people {
		if p.Role == timeline.Owner && p.Ended.IsZero() {
			owners = true
			if store.NameKey(p.Name) == store.NameKey(name) {
				owner = &people[i]
			}
		}
	}
	if owners && owner == nil || spare && (owner == nil || owner.ID != holder) {
		return timeline.Person{}, invalid("name", "fault.people.no_owner_named", "name", name)
	}
	secret, err := s.newPassword(ctx, "password", password, name)
	if err != nil {
		return timeline.Person{}, err
	}
	if owner != nil {
		set := s.st.SetPasswordByCode
		if spare {
			set = s.st.SetPasswordBySpareKey
		}
		err := set(ctx, hash, *owner, secret)
		return shown(*owner), err
	}
	p, err := s.st.CreateOwner(ctx, hash, timeline.Person{Name: name, PasswordHash: secret})
	if err == nil {
		s.peopled.Store(true)
	}
	return shown(p), err
}

// holderOf checks that a code holds; of a spare key it tells whose it is.
func (s *Salon) holderOf(ctx context.Context, hash string, spare bool) (holder timeline.ID, err error) {
	holds := ""
	if spare {
		holder, err = s.st.SpareKeyOwner(ctx, hash)
	} else {
		holds, err = s.st.OwnerCode(ctx)
	}
	if err == nil && holder == "" && (holds == "" || subtle.ConstantTimeCompare([]byte(holds), []byte(hash)) != 1) {
		err = invalid("code", "fault.store.not_found.owner_code")
	}
	return holder, err
}

// MakeSpareKey makes an owner's spare key: seven groups of four, told once. With it she sets a new password from any device,
// whatever strangers have done to the tries of hers. It is good for once, without an end; the one before it holds no longer.
func (s *Salon) MakeSpareKey(ctx context.Context, owner timeline.ID) (key string, err error) {
	key = randomCode(spareChars, 4)
	if err := s.st.MakeSpareKey(ctx, owner, hashOf(plainCode(key))); err != nil {
		return "", err
	}
	return key, nil
}

// SpareKeyMade is when a person's spare key was made; zero: she has none.
func (s *Salon) SpareKeyMade(ctx context.Context, person timeline.ID) (time.Time, error) {
	return s.st.SpareKeyMade(ctx, person)
}

// EndSpareKey is for a key that was lost.
func (s *Salon) EndSpareKey(ctx context.Context, person timeline.ID) error {
	return s.st.EndSpareKey(ctx, person)
}

func cleanPersonName(name string) (string, error) {
	name, err := cleanLine("name", name, maxNameRunes)
	if err == nil && name == "" {
		err = invalid("name", "fault.people.name")
	}
	return strings.Join(strings.Fields(name), " "), err
}

// newPassword checks a new password and hashes it.
func (s *Salon) newPassword(ctx context.Context, field, password, name string) (hash string, err error) {
	set, err := s.Settings(ctx)
	if err != nil {
		return "", err
	}
	if err := checkPassword(field, password, name, set.SalonName); err != nil {
		return "", err
	}
	return s.hashes.hash(ctx, password)
}

// shown is a person as she leaves the use cases.
func shown(p timeline.Person) timeline.Person { p.PasswordHash = ""; return p }

// Invite makes an invitation for seven days, for one person. The token is told once and only its hash is kept.
func (s *Salon) Invite(ctx context.Context, forWhom string, role timeline.Role) (token string, v timeline.Invitation, err error) {
	if forWhom, err = cleanLine("for", forWhom, maxNameRunes); err != nil {
		return "", v, err
	}
	if err := checkWord("role", role, []timeline.Role{timeline.Groomer, timeline.Reader}); err != nil {
		return "", v, err
	}
	if any, err := s.AnyPerson(ctx); err != nil || !any {
		if err == nil {
			err = invalid("for", "fault.people.owner_first")
		}
		return "", v, err
	}
	token = newToken()
	v, err = s.st.CreateInvitation(ctx, timeline.Invitation{
		For: forWhom, Role: role, TokenHash: hashOf(token), Made: s.Now(), Expires: s.Now().Add(inviteDays * 24 * time.Hour),
	})
	if err != nil {
		return "", v, err
	}
	return token, v, nil
}

func newToken() string {
	secret := make([]byte, tokenBytes)
	rand.Read(secret) // never fails
	return base64.RawURLEncoding.EncodeToString(secret)
}

// Invited is the invitation of a token. Unknown, used, withdrawn and expired are all the same NotFound.
func (s *Salon) Invited(ctx context.Context, token string) (timeline.Invitation, error) {
	gone := timeline.NewFault(timeline.NotFound, "fault.store.not_found.invitation").At("invitation")
	if len(token) != base64.RawURLEncoding.EncodedLen(tokenBytes) {
		return timeline.Invitation{}, gone
	}
	v, err := s.st.InvitationByHash(ctx, hashOf(token))
	if err != nil {
		if isNotFound(err) {
			err = gone
		}
		return timeline.Invitation{}, err
	}
	if !v.Used.IsZero() || !v.Withdrawn.IsZero() || !s.Now().Before(v.Expires) {
		return timeline.Invitation{}, gone
	}
	return v, nil
}

// Join makes the account of who was invited; the invitation is used up.
func (s *Salon) Join(ctx context.Context, token, name, password string) (timeline.Person, error) {
	v, err := s.Invited(ctx, token)
	if err != nil {
		return timeline.Person{}, err
	}
	if name, err = cleanPersonName(name); err != nil {
		return timeline.Person{}, err
	}
	hash, err := s.newPassword(ctx, "password", password, name)
	if err != nil {
		return timeline.Person{}, err
	}
	p, err := s.st.Join(ctx, v.TokenHash, timeline.Person{Name: name, PasswordHash: hash})
	return shown(p), err
}

// Invitations that hold now, newest first.
func (s *Salon) Invitations(ctx context.Context) ([]timeline.Invitation, error) {
	all, err := s.st.Invitations(ctx)
	out := []timeline.Invitation{}
	for _, v := range all {
		if v.Used.IsZero() && v.Withdrawn.IsZero() && s.Now().Before(v.Expires) {
			out = append(out, v)
		}
	}
	return out, err
}

// WithdrawInvitation ends an invitation at once.
func (s *Salon) WithdrawInvitation(ctx context.Context, id timeline.ID) error {
	return s.st.WithdrawInvitation(ctx, id)
}

// People by name, those whose account has ended last.
func (s *Salon) People(ctx context.Context) ([]timeline.Person, error) {
	all, err := s.st.People(ctx)
	for i := range all {
		all[i] = shown(all[i])
	}
	return all, err
}

// Person by ID, ended or not.
func (s *Salon) Person(ctx context.Context, id timeline.ID) (timeline.Person, error) {
	p, err := s.st.Person(ctx, id)
	return shown(p), err
}

// RenamePerson checks rev; a name that somebody has is a Conflict.
func (s *Salon) RenamePerson(ctx context.Context, id timeline.ID, rev timeline.Rev, name string) (timeline.Person, error) {
	name, err := cleanPersonName(name)
	if err != nil {
		return timeline.Person{}, err
	}
	p, err := s.st.RenamePerson(ctx, id, rev, name)
	return shown(p), err
}

// ChangeRole checks rev. Her sign-ins end; the last owner stays one.
func (s *Salon) ChangeRole(ctx context.Context, id timeline.ID, rev timeline.Rev, role timeline.Role) (timeline.Person, error) {
	if err := checkWord("role", role, timeline.Roles()); err != nil {
		return timeline.Person{}, err
	}
	p, err := s.st.ChangeRole(ctx, id, rev, role)
	return shown(p), err
}

// EndPerson ends an account with its sign-ins and tokens, at once. The last owner cannot be ended.
func (s *Salon) EndPerson(ctx context.Context, id timeline.ID) (timeline.Person, error) {
	p, err := s.st.EndPerson(ctx, id)
	return shown(p), err
}
