package store

import (
	"context"
	"database/sql"
	"embed"
	"errors"
	"fmt"
	"io/fs"

	tl "thatch/timeline"
)

// Migrations are append-only: one that was ever released is never edited, a change is a new file with the next number.
//
//go:embed migrations/*.sql
var migrationFiles embed.FS

// migrations returns the texts in order; the n-th brings a database from version n to n+1.
func migrations() []string {
	names, err := fs.Glob(migrationFiles, "migrations/*.sql")
	if err != nil {
		panic(err)
	}
	texts := make([]string, len(names))
	for i, name := range names { // Glob sorts
		if want := fmt.Sprintf("migrations/%04d_", i+1); name[:len(want)] != want {
			panic("store: " + name + " should begin with " + want)
		}
		b, err := migrationFiles.ReadFile(name)
		if err != nil {
			panic(err)
		}
		texts[i] = string(b)
	}
	return texts
}

// applicationID is the PRAGMA application_id of our files, set by the first migration.
const applicationID = 0x54686174

var errForeign = errors.New("the file belongs to another program")

// migrate brings the database up to the last migration, each in a transaction of its own that also raises user_version:
// a crash leaves a whole version behind. Two processes may start at once: the version is read under the write lock.
func migrate(ctx context.Context, db *sql.DB, texts []string) error {
	for {
		done := false
		err := inTx(ctx, db, func(t tx) error {
			var have, appID, tables int
			if err := t.sql.QueryRowContext(ctx, "PRAGMA user_version").Scan(&have); err != nil {
				return err
			}
			if err := t.sql.QueryRowContext(ctx, "PRAGMA application_id").Scan(&appID); err != nil {
				return err
			}
			if err := t.sql.QueryRowContext(ctx, "SELECT count(*) FROM sqlite_schema").Scan(&tables); err != nil {
				return err
			}
			if appID != applicationID && (appID != 0 || tables > 0) {
				return tl.NewFault(tl.Internal, "fault.store.foreign").Because(errForeign)
			}
			if have > len(texts) {
				return tl.NewFault(tl.TooNew, "fault.store.too_new", "have", have, "know", len(texts))
			}
			if have == len(texts) {
				done = true
				return nil
			}
			if _, err := t.sql.ExecContext(ctx, texts[have]); err != nil {
				return fmt.Errorf("migration %d: %w", have+1, err)
			}
			_, err := t.sql.ExecContext(ctx, fmt.Sprintf("PRAGMA user_version = %d", have+1))
			return err
		})
		if err != nil || done {
			return err
		}
	}
}
