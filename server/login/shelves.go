package login

import (
	"context"
	"errors"
	"sync"
	"time"

	"thatch/store"
	"thatch/timeline"
)

// shelf is what the store does for sign-ins.
type shelf interface {
	Login(ctx context.Context, tokenHash string) (store.Login, error)
	CreateLogin(ctx context.Context, tokenHash string, v store.Login) (store.Login, error)
	TouchLogin(ctx context.Context, tokenHash string, data []byte, expires time.Time) error
	RenewLogin(ctx context.Context, was, is string, v store.Login) error
	DeleteLogin(ctx context.Context, person timeline.ID, tokenHash string) error
}

// place is where a request's sign-in was found.
type place struct {
	hash string
	row  store.Login
}

// renewal is a sign-in that goes on under another token.
type renewal struct {
	was string
	row store.Login
}

type (
	placeKey struct{} // of a *place, filled in by FindCtx
	beginKey struct{} // of the *store.Login that a commit begins
	renewKey struct{} // of a *renewal
)

// shelves is the library's store. It commits after every request, since the idle time begins anew with each: an expiry
// alone is written once a minute, and a row that is gone stays gone.
type shelves struct {
	shelf
	now     func() time.Time
	mu      sync.Mutex
	touched map[string]time.Time // of late, by hash
}

const touchedKept = 1024

var errNoContext = errors.New("login: the store is only used with a context")

func (s *shelves) Find(string) ([]byte, bool, error)      { return nil, false, errNoContext }
func (s *shelves) Commit(string, []byte, time.Time) error { return errNoContext }
func (s *shelves) Delete(string) error                    { return errNoContext }

// FindCtx finds a sign-in that holds.
func (s *shelves) FindCtx(ctx context.Context, hash string) ([]byte, bool, error) {
	v, err := s.Login(ctx, hash)
	if timeline.KindOf(err) == timeline.NotFound {
		return nil, false, nil
	}
	if err != nil {
		return nil, false, err
	}
	if !s.now().Before(v.Expires) {
		return nil, false, nil
	}
	if at, ok := ctx.Value(placeKey{}).(*place); ok {
		at.hash, at.row = hash, v
	}
	return v.Data, true, nil
}

// CommitCtx begins a sign-in, goes on with it under a new hash, or prolongs it.
func (s *shelves) CommitCtx(ctx context.Context, hash string, data []byte, expires time.Time) error {
	if v, ok := ctx.Value(beginKey{}).(*store.Login); ok {
		v.Data, v.Expires = data, expires
		_, err := s.CreateLogin(ctx, hash, *v)
		return err
	}
	if r, ok := ctx.Value(renewKey{}).(*renewal); ok {
		r.row.Data, r.row.Expires = data, expires
		return s.RenewLogin(ctx, r.was, hash, r.row)
	}
	if !s.due(hash) {
		return nil
	}
	return s.TouchLogin(ctx, hash, data, expires)
}

// due lets one of many requests at once prolong a sign-in.
func (s *shelves) due(hash string) bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	now := s.now()
	if now.Sub(s.touched[hash]) < touchEvery {
		return false
	}
	if len(s.touched) >= touchedKept {
		for k, t := range s.touched {
			if now.Sub(t) >= touchEvery {
				delete(s.touched, k)
			}
		}
	}
	s.touched[hash] = now
	return true
}

// DeleteCtx ends the request's sign-in; under renewal the commit that follows does it in one step with the new one.
func (s *shelves) DeleteCtx(ctx context.Context, hash string) error {
	at, ok := ctx.Value(placeKey{}).(*place)
	if _, renewing := ctx.Value(renewKey{}).(*renewal); renewing || !ok || at.hash != hash {
		return nil
	}
	return s.DeleteLogin(ctx, at.row.Person, hash)
}
