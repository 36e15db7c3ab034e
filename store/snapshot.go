package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	tl "thatch/timeline"
)

// snapshot is the database as it was at one instant, whole in one file, and what it says of the photos.
type snapshot struct {
	path   string
	schema int
	photos []ManifestFile // in order of hash
	zone   *time.Location // the salon's
}

func (s snapshot) drop() { _ = os.Remove(s.path) }

// endedInCopies are tables that a backup does not carry: who was signed in when it was made must not be so where it is
// brought back.
var endedInCopies = []string{"login", "owner_code"}

// takeSnapshot writes the database of the data folder, as it is now, into one of the folders: the first that has room. Others
// go on reading and writing. It is held to be whole before it is returned: a damaged database must never pass for a backup.
func takeSnapshot(ctx context.Context, dir string, into ...string) (s snapshot, err error) {
	for _, d := range into {
		s, err = takeSnapshotInto(ctx, dir, d)
		if err == nil || !noSpace(err) {
			break
		}
	}
	return s, err
}

func takeSnapshotInto(ctx context.Context, dir, into string) (s snapshot, err error) {
	if err := os.MkdirAll(into, 0o700); err != nil {
		return s, err
	}
	s.path = filepath.Join(into, tempPrefix+"snapshot-"+string(newID()))
	defer func() {
		if err != nil {
			s.drop()
		}
	}()
	src, err := openSource(ctx, filepath.Join(dir, dbName))
	if err != nil {
		return s, err
	}
	_, err = src.ExecContext(ctx, "VACUUM INTO ?", s.path)
	if err = errors.Join(err, src.Close()); err != nil {
		return s, err
	}
	return s, s.finish(ctx)
}

// openSource opens the database to be copied: as any reader of a running salon does, or where the folder cannot be written to
// as one that only looks.
func openSource(ctx context.Context, path string) (interface {
	ExecContext(context.Context, string, ...any) (sql.Result, error)
	Close() error
}, error) {
	db, err := sql.Open("sqlite", snapshotDSN(path))
	if err != nil {
		return nil, err
	}
	var n int
	err = db.QueryRowContext(ctx, "PRAGMA schema_version").Scan(&n)
	if c := codeOf(err) & 0xff; c == sqliteCantOpen || c == sqliteReadOnly {
		db.Close()
		return openLooked(ctx, path)
	}
	return db, nil
}

func snapshotDSN(path string) string {
	return fileURL(path, url.Values{"mode": {"rw"}, "_pragma": {"busy_timeout(5000)"}})
}

// finish takes out what no copy carries, checks the whole and reads what is to be copied beside it.
func (s *snapshot) finish(ctx context.Context) error {
	db, err := sql.Open("sqlite", snapshotDSN(s.path))
	if err != nil {
		return err
	}
	defer db.Close()
	db.SetMaxOpenConns(1)
	if _, err := db.ExecContext(ctx, "PRAGMA secure_delete = 1"); err != nil {
		return err
	}
	for _, table := range endedInCopies {
		var there int
		if err := db.QueryRowContext(ctx, "SELECT count(*) FROM sqlite_schema WHERE type = 'table' AND name = ?", table).Scan(&there); err != nil {
			return err
		}
		if there > 0 {
			if _, err := db.ExecContext(ctx, "DELETE FROM "+table); err != nil {
				return err
			}
		}
	}
	wrong, err := integrity(ctx, db)
	if err != nil {
		return err
	}
	if len(wrong) > 0 {
		return tl.NewFault(tl.Internal, "fault.backup.database").Because(errors.New(wrong[0]))
	}
	var zone string
	if err := db.QueryRowContext(ctx, "SELECT zone FROM settings").Scan(&zone); err != nil {
		return err
	}
	if s.zone, err = time.LoadLocation(zone); err != nil {
		s.zone = time.UTC
	}
	if err := db.QueryRowContext(ctx, "PRAGMA user_version").Scan(&s.schema); err != nil {
		return err
	}
	s.photos, err = originalsOf(ctx, db)
	return err
}

// originalsOf are the originals that a database names, in order of hash.
func originalsOf(ctx context.Context, db *sql.DB) ([]ManifestFile, error) {
	rows, err := db.QueryContext(ctx, "SELECT sha256, bytes FROM original")
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	out := []ManifestFile{}
	for rows.Next() {
		var f ManifestFile
		if err := rows.Scan(&f.SHA256, &f.Bytes); err != nil {
			return nil, err
		}
		if !f.sound() {
			return nil, tl.NewFault(tl.Internal, "fault.store.damaged").Because(fmt.Errorf("an original is named %q", f.SHA256))
		}
		out = append(out, f)
	}
	slices.SortFunc(out, func(a, b ManifestFile) int { return strings.Compare(a.SHA256, b.SHA256) })
	return out, rows.Err()
}

// integrity is what SQLite finds wrong with the database, empty where it is whole.
func integrity(ctx context.Context, db *sql.DB) ([]string, error) {
	rows, err := db.QueryContext(ctx, "PRAGMA integrity_check(20)")
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var out []string
	for rows.Next() {
		var line string
		if err := rows.Scan(&line); err != nil {
			return nil, err
		}
		if line != "ok" {
			out = append(out, line)
		}
	}
	if err := rows.Err(); err != nil {
		return nil, err
	}
	loose, err := db.QueryContext(ctx, "PRAGMA foreign_key_check")
	if err != nil {
		return nil, err
	}
	defer loose.Close()
	for loose.Next() {
		var table, parent string
		var row, key any
		if err := loose.Scan(&table, &row, &parent, &key); err != nil {
			return nil, err
		}
		out = append(out, fmt.Sprintf("a row of %s names a row of %s that is not there", table, parent))
	}
	return out, loose.Err()
}
