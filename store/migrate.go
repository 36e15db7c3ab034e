package store

import (
	"bytes"
	"context"
	"database/sql"
	"embed"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
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
		err := inTx(ctx, db, nil, func(t tx) error {
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

// peek refuses another program's file, and one of a newer version, by its header alone: opening it for writing would turn
// it to WAL before it could be refused. What the header does not tell yet is found by migrate.
//
// Offsets: SQLite, Database File Format, section 1.3 (schema cookie at 40, user version at 60, application ID at 68, big-endian).
func (s *Store) peek(db string) error {
	f, err := s.fs.Open(db)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return err
	}
	defer f.Close()
	header := make([]byte, 100)
	n, err := f.ReadAt(header, 0)
	if n == 0 && errors.Is(err, io.EOF) {
		return nil // SQLite takes an empty file as a new database
	}
	if err != nil && !errors.Is(err, io.EOF) {
		return err
	}
	if n < len(header) || !bytes.HasPrefix(header, []byte("SQLite format 3\x00")) {
		return tl.NewFault(tl.Internal, "fault.store.damaged").Because(errors.New("no SQLite header"))
	}
	// A database without an ID is ours only while nothing was made in it: its schema cookie is still 0.
	id, cookie := binary.BigEndian.Uint32(header[68:]), binary.BigEndian.Uint32(header[40:])
	if id != applicationID && (id != 0 || cookie != 0) {
		return tl.NewFault(tl.Internal, "fault.store.foreign").Because(errForeign)
	}
	if have, know := int(binary.BigEndian.Uint32(header[60:])), len(migrations()); have > know {
		return tl.NewFault(tl.TooNew, "fault.store.too_new", "have", have, "know", know)
	}
	return nil
}
