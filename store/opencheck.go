package store

import (
	"context"
	"database/sql"
	"errors"
	"io"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
)

// A database may be looked at without changing a byte beside it in three ways:
//   - nobody has it open (no WAL lies beside it): as immutable, for SQLite would otherwise leave a WAL and its index behind;
//   - somebody has it open, or a process died with it: read-only, with the WAL;
//   - the same in a folder that cannot be written to, where the WAL's index cannot be made: a copy elsewhere.

// looked is a database that is open to be looked at.
type looked struct {
	*sql.DB
	path  string
	still bool        // opened as immutable
	was   fs.FileInfo // of a still one, when it was opened
	copy  string      // folder of the copy that is looked at instead; "": none
}

func openLooked(ctx context.Context, path string) (*looked, error) {
	info, err := os.Stat(path)
	if err != nil {
		return nil, err
	}
	l := &looked{path: path, was: info}
	if _, err := os.Stat(path + "-wal"); errors.Is(err, fs.ErrNotExist) {
		l.still = true
	}
	if l.DB, err = sql.Open("sqlite", lookDSN(path, l.still)); err != nil {
		return nil, err
	}
	err = l.PingContext(ctx)
	if err == nil && !l.still { // opening says little; the first page needs the WAL's index
		var n int
		err = l.QueryRowContext(ctx, "PRAGMA schema_version").Scan(&n)
	}
	if c := codeOf(err) & 0xff; !l.still && (c == sqliteCantOpen || c == sqliteReadOnly) {
		l.DB.Close()
		return openCopy(path)
	}
	return l, nil // a damaged one says so when it is asked
}

// openCopy copies the database with its WAL to where an index can be made. Nobody writes to it: who could would have made one.
func openCopy(path string) (*looked, error) {
	dir, err := os.MkdirTemp("", "thatch-look-")
	if err != nil {
		return nil, err
	}
	l := &looked{path: filepath.Join(dir, dbName), copy: dir}
	for _, end := range []string{"", "-wal"} {
		if err = copyFile(path+end, l.path+end); err != nil {
			break
		}
	}
	if err == nil {
		l.DB, err = sql.Open("sqlite", lookDSN(l.path, false))
	}
	if err != nil {
		os.RemoveAll(dir)
		return nil, err
	}
	return l, nil
}

func copyFile(from, to string) error {
	r, err := os.Open(from)
	if err != nil {
		return err
	}
	defer r.Close()
	w, err := os.OpenFile(to, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return err
	}
	_, err = io.Copy(w, r)
	return errors.Join(err, w.Close())
}

// moved reports whether somebody has begun to write to what was opened as still: what was read of it may be torn.
func (l *looked) moved() bool {
	if !l.still {
		return false
	}
	_, err := os.Stat(l.path + "-wal")
	now, also := os.Stat(l.path)
	return err == nil || also != nil || now.Size() != l.was.Size() || !now.ModTime().Equal(l.was.ModTime())
}

func (l *looked) Close() error {
	err := l.DB.Close()
	if l.copy != "" {
		err = errors.Join(err, os.RemoveAll(l.copy))
	}
	return err
}

func lookDSN(path string, still bool) string {
	q := url.Values{"_pragma": {"busy_timeout(5000)", "query_only(1)"}, "mode": {"ro"}}
	if still {
		q.Set("immutable", "1")
	}
	return fileURL(path, q)
}
