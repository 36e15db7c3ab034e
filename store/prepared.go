package store

import (
	"context"
	"database/sql"
	"sync"
)

// prepared are the statements that readers, or the writer, have asked before: SQLite takes as long to read the text of one of
// ours as to run it.
type prepared struct {
	mu sync.RWMutex
	of map[*stmt]*sql.Stmt
}

// ready is what one read or write has of them, and what it found missing.
type ready struct {
	kept   *prepared
	missed []*stmt
}

func (r *ready) of(q *stmt) *sql.Stmt {
	if r == nil {
		return nil
	}
	r.kept.mu.RLock()
	p := r.kept.of[q]
	r.kept.mu.RUnlock()
	if p == nil {
		r.missed = append(r.missed, q)
	}
	return p
}

// prepare is for after a read or a write, when its connection is free again: during it a pool that is all in use would wait for
// itself, the writer's single one always. What cannot be prepared now is asked for by its text again.
func (p *prepared) prepare(ctx context.Context, db *sql.DB, missed []*stmt) {
	for _, q := range missed {
		p.mu.RLock()
		done := p.of[q] != nil
		p.mu.RUnlock()
		if done {
			continue
		}
		made, err := db.PrepareContext(ctx, q.text)
		if err != nil {
			return
		}
		p.mu.Lock()
		if p.of == nil {
			p.of = map[*stmt]*sql.Stmt{}
		}
		if p.of[q] == nil {
			p.of[q], made = made, nil
		}
		p.mu.Unlock()
		if made != nil {
			made.Close()
		}
	}
}
