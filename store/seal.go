package store

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"path/filepath"
	"time"

	tl "thatch/timeline"
)

// SQLite keeps no checksums: a bit that flips in a note, a date or a length makes another value that fits as well, and no
// check of structure sees it. So who closes a salon last seals its database: the hash of the file lies beside it until the
// salon is opened again, and a database that is another one then has changed by itself.
//
// The lock is shared by every open Store, and taken alone to seal: nobody opens meanwhile. A process that dies leaves no seal,
// and then nothing is said. A file that somebody replaced on purpose says so by its own counter or version.
const (
	sealName     = "thatch.seal"
	openLockName = "open.lock"
	sealTitle    = "thatch seal 1"
)

// openPatience is how long an opening waits for a sealing, which takes as long as the database takes to be read.
const openPatience = time.Minute

// seal is what is known of a database that lies still.
type seal struct {
	file    ManifestFile
	counter uint32 // of changes of the file; SQLite, Database File Format, section 1.3, offset 24
	version uint32 // offset 60
}

func (s seal) encode() []byte {
	text := fmt.Appendf(nil, "%s\n%s %d %d %d\n", sealTitle, s.file.SHA256, s.file.Bytes, s.counter, s.version)
	return fmt.Appendf(text, "%s\n", hexSum(text))
}

// parseSeal is not ok for anything that is not byte for byte what encode writes.
func parseSeal(b []byte) (s seal, ok bool) {
	first, rest, _ := bytes.Cut(b, []byte("\n"))
	if string(first) != sealTitle {
		return s, false
	}
	if _, err := fmt.Sscanf(string(rest), "%64s %d %d %d\n", &s.file.SHA256, &s.file.Bytes, &s.counter, &s.version); err != nil {
		return s, false
	}
	return s, bytes.Equal(s.encode(), b)
}

// sealOf reads the database to its end.
func sealOf(ctx context.Context, fsys FS, db string) (s seal, consistent bool, err error) {
	f, err := fsys.Open(db)
	if err != nil {
		return s, false, err
	}
	defer f.Close()
	header := make([]byte, 100)
	if _, err := f.ReadAt(header, 0); err != nil {
		return s, false, err
	}
	s.counter, s.version = binary.BigEndian.Uint32(header[24:]), binary.BigEndian.Uint32(header[60:])
	s.file, err = hashAll(ctx, io.Discard, f)
	return s, s.counter == binary.BigEndian.Uint32(header[92:]), err
}

// errSeal is a database that changed while nobody had it open.
var errSeal = errors.New("the database is not the one that was closed last")

// checkSeal holds the database against its seal, where there is one.
func checkSeal(ctx context.Context, fsys FS, dir string) error {
	f, err := fsys.Open(filepath.Join(dir, sealName))
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return err
	}
	b, err := io.ReadAll(io.LimitReader(f, 1<<10))
	if err = errors.Join(err, f.Close()); err != nil {
		return err
	}
	want, ok := parseSeal(b)
	if !ok {
		return nil // the seal itself has gone bad
	}
	got, consistent, err := sealOf(ctx, fsys, filepath.Join(dir, dbName))
	if err != nil || got == want {
		return err
	}
	if consistent && (got.counter != want.counter || got.version != want.version) {
		return nil // another database was put there, or another program wrote to this one
	}
	return errSeal
}

// enter takes the shared lock, holds the database against its seal and breaks the seal, before anything is written.
func (s *Store) enter(ctx context.Context) error {
	var err error
	for began := time.Now(); ; {
		s.leave, err = lockFile(filepath.Join(s.dir, openLockName), false)
		if err == nil {
			break
		}
		if !errors.Is(err, errTaken) { // no locks here: nobody seals either
			s.leave = nil
			break
		}
		if time.Since(began) > openPatience {
			return tl.NewFault(tl.Busy, "fault.store.busy").Because(err)
		}
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-time.After(10 * time.Millisecond):
		}
	}
	err = checkSeal(ctx, s.fs, s.dir)
	if errors.Is(err, errSeal) {
		err = tl.NewFault(tl.Internal, "fault.store.seal").Because(err)
	}
	if err == nil {
		if err = s.fs.Remove(filepath.Join(s.dir, sealName)); errors.Is(err, fs.ErrNotExist) {
			err = nil
		}
	}
	if err != nil && s.leave != nil {
		s.leave()
	}
	return err
}

// sealUp is for who closes last. It is housekeeping: without a seal less is known, and nothing is wrong.
func (s *Store) sealUp() {
	if s.leave == nil {
		return
	}
	s.leave()
	release, err := lockFile(filepath.Join(s.dir, openLockName), true)
	if err != nil {
		return // others have it open
	}
	defer release()
	db := filepath.Join(s.dir, dbName)
	if _, err := s.fs.Stat(db + "-wal"); !errors.Is(err, fs.ErrNotExist) {
		return // something of it lies elsewhere
	}
	ctx := context.Background()
	v, consistent, err := sealOf(ctx, s.fs, db)
	if err != nil || !consistent {
		return
	}
	w, err := writeFresh(ctx, s.fs, filepath.Join(s.dir, incomingDir), bytes.NewReader(v.encode()))
	if err != nil {
		return
	}
	if w.moveTo(filepath.Join(s.dir, sealName)) == nil {
		_ = s.fs.SyncDir(s.dir)
	}
}
