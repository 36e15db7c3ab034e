package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	tl "thatch/timeline"
)

// Copies of the database as it was before it was migrated: kept/thatch.db.v6 is of data version 6.
const (
	keptDir    = "kept"
	keptPrefix = dbName + ".v"
	keptCopies = 2
)

// checkWhole reads the database from end to end before anything writes to it: a damaged one is refused, and stays byte for
// byte what it is for those who will look at it. The connection is read-only, since the last writing one would move the
// write-ahead log into the file when it closes.
//
// PRAGMA integrity_check finds broken pages and cells, rows that break the schema's own rules and indexes that tell another
// story than their tables (https://www.sqlite.org/pragma.html#pragma_integrity_check). A letter of a note that became
// another letter it cannot see.
func (s *Store) checkWhole(ctx context.Context, db string) error {
	info, err := s.fs.Stat(db)
	if errors.Is(err, fs.ErrNotExist) || err == nil && info.Size() == 0 {
		return nil
	}
	if err != nil {
		return err
	}
	ro, err := sql.Open("sqlite", readOnlyDSN(db))
	if err != nil {
		return err
	}
	defer ro.Close()
	if err := integrityCheck(ctx, ro); err != nil {
		if c := codeOf(err) & 0xff; errors.Is(err, errDamaged) || c == sqliteCorrupt || c == sqliteNotADB {
			return tl.NewFault(tl.Internal, "fault.store.damaged_start").Because(err)
		}
		return err
	}
	return nil
}

var errDamaged = errors.New("the database's own check failed")

func integrityCheck(ctx context.Context, db *sql.DB) error {
	var said string
	if err := db.QueryRowContext(ctx, "PRAGMA integrity_check(1)").Scan(&said); err != nil {
		return err
	}
	if said != "ok" {
		return fmt.Errorf("%w: %s", errDamaged, strings.Join(strings.Fields(said), " "))
	}
	return nil
}

// copyBeforeMigrating keeps the database as it is, if migrating would change it: whole, durable, and checked before its name
// says so. Without the copy nothing is migrated.
func (s *Store) copyBeforeMigrating(ctx context.Context, know int) error {
	have, err := userVersion(ctx, s.writer)
	if err != nil || have == 0 || have >= know {
		return err
	}
	err = s.keepCopy(ctx, know)
	if err == nil {
		return nil
	}
	kind, key := tl.Internal, "fault.store.guard"
	if err = fault("copy before migrating", err); tl.KindOf(err) == tl.NoSpace {
		kind, key = tl.NoSpace, "fault.store.guard_space"
	}
	return tl.NewFault(kind, key).Because(err)
}

func (s *Store) keepCopy(ctx context.Context, know int) error {
	dir := filepath.Join(s.dir, keptDir)
	if err := s.fs.MkdirAll(dir); err != nil {
		return err
	}
	if err := s.fs.SyncDir(s.dir); err != nil {
		return err
	}
	temp := filepath.Join(dir, tempPrefix+string(newID()))
	defer s.fs.Remove(temp) // after the rename it is gone
	if _, err := s.writer.ExecContext(ctx, "VACUUM INTO ?", temp); err != nil {
		return err
	}
	// The version is the copy's: another process may have migrated meanwhile.
	have, err := checkCopy(ctx, temp)
	if err != nil || have >= know {
		return err
	}
	if err := syncFile(temp); err != nil { // VACUUM INTO does not
		return err
	}
	if err := s.fs.Rename(temp, filepath.Join(dir, keptPrefix+strconv.Itoa(have))); err != nil {
		return err
	}
	if err := s.fs.SyncDir(dir); err != nil {
		return err
	}
	return s.dropOldCopies(dir)
}

func checkCopy(ctx context.Context, file string) (version int, err error) {
	db, err := sql.Open("sqlite", readOnlyDSN(file))
	if err != nil {
		return 0, err
	}
	defer db.Close()
	if err := integrityCheck(ctx, db); err != nil {
		return 0, err
	}
	return userVersion(ctx, db)
}

func userVersion(ctx context.Context, db *sql.DB) (v int, err error) {
	err = db.QueryRowContext(ctx, "PRAGMA user_version").Scan(&v)
	return v, err
}

func (s *Store) dropOldCopies(dir string) error {
	entries, err := s.fs.ReadDir(dir)
	if err != nil {
		return err
	}
	var versions []int
	for _, e := range entries {
		if text, ok := strings.CutPrefix(e.Name(), keptPrefix); ok {
			if v, err := strconv.Atoi(text); err == nil {
				versions = append(versions, v)
			}
		}
	}
	slices.Sort(versions)
	for _, v := range versions[:max(0, len(versions)-keptCopies)] {
		_ = s.fs.Remove(filepath.Join(dir, keptPrefix+strconv.Itoa(v))) // one copy too many is no trouble
	}
	return nil
}

// syncFile makes durable what somebody else wrote. Opened for writing: Windows flushes no other.
func syncFile(name string) error {
	f, err := os.OpenFile(name, os.O_RDWR, 0)
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close())
}
