package store

import (
	"context"
	"database/sql"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"
)

// TrashDays is how long a thing in the trash can be had back.
const TrashDays = 30

const trashTime = TrashDays * 24 * time.Hour

// Tidied is what housekeeping did.
type Tidied struct {
	Things    int // rows that were in the trash for longer than TrashDays
	Originals int // photo files that no row names any more
	Kept      int // rows that would have gone, but something that lives names them
	Later     bool
}

// emptying is how one kind of thing leaves the trash for good. Each statement's parameter is the ID.
type emptying struct {
	bin
	due  *stmt // IDs that have been in the trash since before a moment, without those that something living needs
	gone []*stmt
}

func empty(b bin, unless string, before ...string) emptying {
	e := emptying{bin: b, due: query(`SELECT x.id FROM ` + b.what + ` x WHERE x.trashed_at < ?1 AND NOT EXISTS (` + unless + `) ORDER BY x.trashed_at`)}
	for _, text := range append(before, `DELETE FROM `+b.what+` WHERE id = ?1`) {
		e.gone = append(e.gone, query(text))
	}
	return e
}

const nothing = `SELECT 1 WHERE 0`

// What a thing owns goes with it. A photo that a wanted outline is drawn on, or that a salon check was made of, stays; so does
// a kind of coat that a dog has.
var emptyings = []emptying{
	empty(photos, `SELECT 1 FROM target_line t WHERE t.photo = x.id UNION ALL
		SELECT 1 FROM salon_check c, json_each(c.photos) j WHERE c.trashed_at IS NULL AND j.value = x.id`),
	empty(sessions, nothing, `UPDATE photo SET session = NULL WHERE session = ?1`, `UPDATE reading SET session = NULL WHERE session = ?1`),
	empty(readings, nothing),
	empty(shows, nothing),
	empty(checks, nothing),
	empty(heap, nothing),
	empty(dogs, nothing,
		`UPDATE heap SET said_dog = NULL WHERE said_dog = ?1`, `DELETE FROM target_line WHERE dog = ?1`, `DELETE FROM salon_check WHERE dog = ?1`,
		`DELETE FROM reading WHERE dog = ?1`, `DELETE FROM photo WHERE dog = ?1`, `DELETE FROM session WHERE dog = ?1`,
		`DELETE FROM show WHERE dog = ?1`, `DELETE FROM link WHERE dog = ?1`, `DELETE FROM care WHERE dog = ?1`, `DELETE FROM care_every WHERE dog = ?1`),
	empty(profiles, `SELECT 1 FROM dog d WHERE d.profile = x.id`),
}

// A file that is to go is noted as a job that nobody claims, in the step that takes its row away: a crash before the file is
// gone forgets nothing.
const kindForget = "forget"

var (
	unnamedOriginals = query(`SELECT o.sha256 FROM original o WHERE NOT EXISTS (SELECT 1 FROM photo p WHERE p.sha256 = o.sha256) AND NOT EXISTS (SELECT 1 FROM heap h WHERE h.sha256 = o.sha256)`)
	deleteOriginal   = query(`DELETE FROM original WHERE sha256 = ?`)
	dropJobsOf       = query(`DELETE FROM job WHERE key = ?`)
	noteForget       = query(`INSERT INTO job (id, kind, key) VALUES (?, ?, ?)`)
	listForget       = query(`SELECT key FROM job WHERE kind = ?`)
	dropForget       = query(`DELETE FROM job WHERE kind = ? AND key = ?`)
)

// Tidy empties the trash of what has been in it for longer than TrashDays, and sweeps what uploads that broke off left behind.
// While a backup is made it does nothing, and says so by Later.
//
// A row goes before its file: a crash in between leaves a file without a row, which the next Tidy takes away.
func (s *Store) Tidy(ctx context.Context) (done Tidied, err error) {
	release, ok := s.mayDiscard()
	if !ok {
		return Tidied{Later: true}, nil
	}
	defer release()
	s.sweepLeftovers()
	before := stamp(s.now().Add(-trashTime))
	for _, e := range emptyings {
		if err := s.emptyOf(ctx, e, before, &done); err != nil {
			return done, err
		}
	}
	if err := s.forgetOnce(ctx); err != nil {
		return done, err
	}
	if err := s.forgetUnnamed(ctx); err != nil {
		return done, err
	}
	done.Originals, err = s.removeForgotten(ctx)
	return done, err
}

const opPurge = "purge trash"

func (s *Store) list(ctx context.Context, q *stmt, args ...any) (out []string, err error) {
	err = s.read(ctx, opPurge, func(t tx) error {
		return t.each(func(r scanner) error {
			var id string
			err := r.Scan(&id)
			out = append(out, id)
			return err
		}, q, args...)
	})
	return out, err
}

func (s *Store) emptyOf(ctx context.Context, e emptying, before string, done *Tidied) error {
	ids, err := s.list(ctx, e.due, before)
	if err != nil {
		return err
	}
	for _, id := range ids {
		went := false
		err := s.write(ctx, opPurge, func(t tx) error {
			var when sql.NullString // somebody may have had it back meanwhile
			if err := t.row(e.trashed, id).Scan(&when); err != nil || !when.Valid || when.String >= before {
				if errors.Is(err, sql.ErrNoRows) {
					err = nil // it went with its dog
				}
				return err
			}
			for _, q := range e.gone {
				if _, err := t.exec(q, id); err != nil {
					return err
				}
			}
			went = true
			return nil
		})
		switch {
		case err == nil && went:
			done.Things++
		case codeOf(err) == sqliteForeignKey:
			done.Kept++
		case err != nil:
			return err
		}
	}
	return nil
}

func (s *Store) forgetUnnamed(ctx context.Context) error {
	return s.write(ctx, opPurge, func(t tx) error {
		var shas []string
		err := t.each(func(r scanner) error {
			var sha string
			err := r.Scan(&sha)
			shas = append(shas, sha)
			return err
		}, unnamedOriginals)
		if err != nil {
			return err
		}
		for _, sha := range shas {
			if _, err := t.exec(dropJobsOf, sha); err != nil {
				return err
			}
			if _, err := t.exec(noteForget, newID(), kindForget, sha); err != nil {
				return err
			}
			if _, err := t.exec(deleteOriginal, sha); err != nil {
				return err
			}
		}
		return nil
	})
}

// removeForgotten takes the files away. Under the write lock, for the same photo may be coming in again.
func (s *Store) removeForgotten(ctx context.Context) (n int, err error) {
	shas, err := s.list(ctx, listForget, kindForget)
	if err != nil {
		return 0, err
	}
	for _, sha := range shas {
		err := s.write(ctx, opPurge, func(t tx) error {
			var known int
			if err := t.row(countOriginal, sha).Scan(&known); err != nil {
				return err
			}
			if known == 0 && shaShape.MatchString(sha) {
				if err := s.removeFilesOf(sha); err != nil {
					return err
				}
				n++
			}
			_, err := t.exec(dropForget, kindForget, sha)
			return err
		})
		if err != nil {
			return n, err
		}
	}
	return n, nil
}

func (s *Store) removeFilesOf(sha string) error {
	versions, err := s.fs.ReadDir(filepath.Join(s.dir, derivedDir))
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	for _, v := range versions {
		dir := filepath.Join(s.dir, derivedDir, v.Name(), sha[:2])
		files, err := s.fs.ReadDir(dir)
		if err != nil && !errors.Is(err, fs.ErrNotExist) {
			return err
		}
		for _, f := range files {
			if strings.HasPrefix(f.Name(), sha+"-") {
				if err := s.fs.Remove(filepath.Join(dir, f.Name())); err != nil && !errors.Is(err, os.ErrNotExist) {
					return err
				}
			}
		}
	}
	path := s.originalPath(sha)
	if err := s.fs.Remove(path); errors.Is(err, fs.ErrNotExist) {
		return nil
	} else if err != nil {
		return err
	}
	return s.fs.SyncDir(filepath.Dir(path))
}

// DaysLeft is how many days a thing that was put aside can still be had back, the one that has begun with them.
func DaysLeft(trashed, now time.Time) int {
	const day = 24 * time.Hour
	return max(0, int((trashTime-now.Sub(trashed)+day-1)/day))
}
