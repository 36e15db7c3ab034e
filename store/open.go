package store

import (
	"context"
	"database/sql"
	"errors"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"time"

	_ "modernc.org/sqlite" // the driver "sqlite"

	tl "thatch/timeline"
)

// Names inside the data folder.
const (
	dbName      = "thatch.db"
	photosDir   = "photos"   // originals, and nothing else is named like them
	incomingDir = "incoming" // files being received; on the same file system, so that rename is atomic
	derivedDir  = "derived"  // can be thrown away and made again
	tempPrefix  = "in-"
)

// staleTemp is when a file being received was surely abandoned: no upload takes that long, and another process may be
// receiving right now.
const staleTemp = 24 * time.Hour

// Store is an open data folder.
type Store struct {
	dir     string
	fs      FS
	now     func() time.Time
	writer  *sql.DB // one connection: writers queue here instead of at SQLite's lock
	readers *sql.DB
	kept    prepared // of readers
	written prepared // of the writer
	wrote   writers
	woken   chan struct{}

	floorBytes int64  // as in Options
	leave      func() // gives back that it is open; nil: no locks here
}

// Open opens the salon in dir, making it where it is not there yet. A folder of a newer version is a Fault TooNew and
// stays as it is.
func Open(ctx context.Context, dir string, opt Options) (st *Store, err error) {
	op := "open store"
	if opt.FS == nil {
		opt.FS = osFS{}
	}
	if opt.Now == nil {
		opt.Now = time.Now
	}
	abs, err := filepath.Abs(dir)
	if err != nil {
		return nil, fault(op, err)
	}
	s := &Store{dir: abs, fs: opt.FS, now: opt.Now, woken: make(chan struct{}, 1), floorBytes: opt.FloorBytes}
	db := filepath.Join(abs, dbName)
	if opt.MustExist {
		if _, err := s.fs.Stat(db); errors.Is(err, fs.ErrNotExist) {
			return nil, tl.NewFault(tl.NotFound, "fault.store.no_salon", "dir", dir).At(op)
		}
	}
	if err := s.peek(db); err != nil {
		return nil, s.openFault(op, dir, err)
	}
	if err := s.checkWhole(ctx, db); err != nil {
		return nil, s.openFault(op, dir, err)
	}
	for _, d := range []string{abs, filepath.Join(abs, photosDir), filepath.Join(abs, incomingDir)} {
		if err := s.fs.MkdirAll(d); err != nil {
			return nil, s.openFault(op, dir, err)
		}
	}
	if err := s.enter(ctx); err != nil {
		return nil, s.openFault(op, dir, err)
	}
	defer func() {
		if st == nil && s.leave != nil {
			s.leave()
		}
	}()
	if err := s.fs.SyncDir(abs); err != nil {
		return nil, s.openFault(op, dir, err)
	}

	if err := makePrivate(db); err != nil {
		return nil, s.openFault(op, dir, err)
	}
	s.writer, err = sql.Open("sqlite", dsn(db, true))
	if err != nil {
		return nil, s.openFault(op, dir, err)
	}
	s.writer.SetMaxOpenConns(1)
	if err := s.copyBeforeMigrating(ctx, len(migrations())); err != nil {
		s.writer.Close()
		return nil, s.openFault(op, dir, err)
	}
	if err := migrate(ctx, s.writer, migrations()); err != nil {
		s.writer.Close()
		return nil, s.openFault(op, dir, err)
	}
	s.readers, err = sql.Open("sqlite", dsn(db, false))
	if err != nil {
		s.writer.Close()
		return nil, s.openFault(op, dir, err)
	}
	s.readers.SetMaxOpenConns(4)
	s.readers.SetMaxIdleConns(4)
	s.sweep()
	return s, nil
}

// makePrivate makes a new database's file for the salon's people only: SQLite would let everybody read it. Its log gets the
// rights that the file has.
func makePrivate(db string) error {
	f, err := os.OpenFile(db, os.O_RDWR|os.O_CREATE, 0o600)
	if err != nil {
		return err
	}
	return f.Close()
}

// Close closes the database; callers stop their work first.
func (s *Store) Close() error {
	err := errors.Join(s.readers.Close(), s.writer.Close())
	if err == nil {
		s.sealUp()
	}
	return fault("close store", err)
}

// Dir is the data folder.
func (s *Store) Dir() string { return s.dir }

func (s *Store) openFault(op, dir string, err error) error {
	err = fault(op, err)
	var f *tl.Fault
	if errors.As(err, &f) {
		if f.Say.Args == nil {
			f.Say.Args = map[string]any{}
		}
		f.Say.Args["dir"] = dir
	}
	return err
}

// dsn carries every pragma: set by Exec on a pool they would reach one connection only.
func dsn(path string, writer bool) string {
	q := url.Values{"_pragma": {"busy_timeout(5000)", "foreign_keys(1)"}}
	if writer {
		// FULL: in WAL mode the default loses the last commits in a power cut. The size limit gives a long WAL back.
		q["_pragma"] = append(q["_pragma"], "journal_mode(WAL)", "synchronous(FULL)", "journal_size_limit(67108864)")
		q.Set("_txlock", "immediate")
	} else {
		q["_pragma"] = append(q["_pragma"], "query_only(1)")
	}
	return fileURL(path, q)
}

// readOnlyDSN opens a database that is there and is left as it is.
func readOnlyDSN(path string) string {
	return fileURL(path, url.Values{"mode": {"ro"}, "_pragma": {"busy_timeout(5000)", "query_only(1)"}})
}

func fileURL(path string, q url.Values) string {
	path = filepath.ToSlash(path)
	if !strings.HasPrefix(path, "/") {
		path = "/" + path // a Windows drive: file:///C:/…
	}
	return (&url.URL{Scheme: "file", Path: path, RawQuery: q.Encode()}).String()
}
