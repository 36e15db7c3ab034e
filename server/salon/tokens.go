package salon

import (
	"context"
	"slices"
	"strings"
	"time"

	"thatch/timeline"
)

const (
	tokenDays    = 90
	maxTokenDays = 366
	tokenPrefix  = "thatch_" // so that a token that got into the wrong place is found
	touchEvery   = time.Minute
)

// MakeToken makes a token for a program, for so many days (0: 90). The secret is told once and only its hash is kept.
func (s *Salon) MakeToken(ctx context.Context, person timeline.ID, name string, scope timeline.Scope, days int) (secret string, v timeline.APIToken, err error) {
	p, err := s.Person(ctx, person)
	if err != nil {
		return "", v, err
	}
	if name, err = cleanLine("token_name", name, maxNameRunes); err != nil {
		return "", v, err
	}
	if name == "" {
		return "", v, invalid("token_name", "fault.token.name")
	}
	if err := checkWord("scope", scope, ScopesOf(p.Role)); err != nil {
		return "", v, err
	}
	if days == 0 {
		days = tokenDays
	}
	if days < 1 || days > maxTokenDays {
		return "", v, invalid("days", "fault.token.days", "max", maxTokenDays)
	}
	secret = tokenPrefix + newToken()
	v, err = s.st.CreateToken(ctx, timeline.APIToken{
		Person: person, Name: name, Scope: scope, TokenHash: hashOf(secret), Made: s.Now(), Expires: s.Now().Add(time.Duration(days) * 24 * time.Hour),
	})
	if err != nil {
		return "", v, err
	}
	return secret, v, nil
}

// ScopesOf are what a token of somebody with that role may be for.
func ScopesOf(r timeline.Role) []timeline.Scope {
	if r == timeline.Reader {
		return []timeline.Scope{timeline.ScopeRead}
	}
	return timeline.Scopes()
}

// Tokens of a person that hold now, newest first.
func (s *Salon) Tokens(ctx context.Context, person timeline.ID) ([]timeline.APIToken, error) {
	all, err := s.st.Tokens(ctx, person)
	return slices.DeleteFunc(all, func(v timeline.APIToken) bool { return !v.Ended.IsZero() || !s.Now().Before(v.Expires) }), err
}

// EndToken ends a token of a person at once.
func (s *Salon) EndToken(ctx context.Context, person, id timeline.ID) error {
	return s.st.EndToken(ctx, person, id)
}

// ByToken is who a program acts for. Unknown, ended and expired tokens, and those of people whose account has ended, are
// all the same SignedOut.
func (s *Salon) ByToken(ctx context.Context, secret string) (timeline.Visitor, error) {
	no := timeline.NewFault(timeline.SignedOut, "fault.token.no").At("token")
	if !strings.HasPrefix(secret, tokenPrefix) || len(secret) > 100 {
		return timeline.Visitor{}, no
	}
	v, err := s.st.TokenByHash(ctx, hashOf(secret))
	if isNotFound(err) {
		return timeline.Visitor{}, no
	}
	if err != nil {
		return timeline.Visitor{}, err
	}
	now := s.Now()
	if !v.Ended.IsZero() || !now.Before(v.Expires) {
		return timeline.Visitor{}, no
	}
	p, err := s.st.Person(ctx, v.Person)
	if err != nil {
		return timeline.Visitor{}, err
	}
	if !p.Ended.IsZero() {
		return timeline.Visitor{}, no
	}
	if now.Sub(v.Used) >= touchEvery {
		if err := s.st.TouchToken(ctx, v.ID); err != nil {
			return timeline.Visitor{}, err
		}
	}
	return timeline.Visitor{Person: p.ID, Name: p.Name, Role: p.Role, Token: v.ID, Scope: v.Scope}, nil
}
