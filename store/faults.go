package store

import (
	"context"
	"errors"
	"io/fs"
	"runtime"
	"syscall"

	"modernc.org/sqlite"

	tl "thatch/timeline"
)

// Result codes of SQLite (https://www.sqlite.org/rescode.html); the lower byte is the primary code.
const (
	sqliteBusy     = 5
	sqliteLocked   = 6
	sqliteReadOnly = 8
	sqliteCorrupt  = 11
	sqliteFull     = 13
	sqliteCantOpen = 14
	sqliteNotADB   = 26

	sqliteShmSize = 4874 // no room for the index of the write-ahead log

	sqliteCheck      = 275
	sqliteForeignKey = 787
	sqlitePrimaryKey = 1555
	sqliteUnique     = 2067
)

func codeOf(err error) int {
	var e *sqlite.Error
	if errors.As(err, &e) {
		return e.Code()
	}
	return 0
}

// isUnique reports whether a unique index or key refused the row.
func isUnique(err error) bool {
	c := codeOf(err)
	return c == sqliteUnique || c == sqlitePrimaryKey
}

// fault turns what SQLite and the file system say into what a person can act on. A Fault stays what it is.
func fault(op string, err error) error {
	if err == nil {
		return nil
	}
	var f *tl.Fault
	if errors.As(err, &f) {
		if f.Op == "" {
			f.Op = op
		}
		return err
	}
	make := func(k tl.Kind, key string) error { return tl.NewFault(k, key).At(op).Because(err) }
	if errors.Is(err, context.Canceled) || errors.Is(err, context.DeadlineExceeded) {
		return make(tl.Busy, "fault.store.stopped")
	}
	if noSpace(err) {
		return make(tl.NoSpace, "fault.store.no_space")
	}
	c := codeOf(err)
	switch c {
	case sqliteCheck:
		return make(tl.Invalid, "fault.store.value")
	case sqliteForeignKey:
		return make(tl.Invalid, "fault.store.reference")
	}
	switch c & 0xff {
	case sqliteBusy, sqliteLocked:
		return make(tl.Busy, "fault.store.busy")
	case sqliteCorrupt, sqliteNotADB:
		return make(tl.Internal, "fault.store.damaged")
	case sqliteReadOnly, sqliteCantOpen:
		return make(tl.Internal, "fault.store.unwritable")
	}
	if errors.Is(err, fs.ErrPermission) || errors.Is(err, syscall.EROFS) || errors.Is(err, syscall.ENOTDIR) {
		return make(tl.Internal, "fault.store.unwritable")
	}
	return make(tl.Internal, "fault.store.trouble")
}

func noSpace(err error) bool {
	if errors.Is(err, syscall.ENOSPC) || errors.Is(err, syscall.EDQUOT) || codeOf(err)&0xff == sqliteFull || codeOf(err) == sqliteShmSize {
		return true
	}
	const windowsDiskFull = syscall.Errno(112)
	return runtime.GOOS == "windows" && errors.Is(err, windowsDiskFull)
}

func notFound(what string) *tl.Fault { return tl.NewFault(tl.NotFound, "fault.store.not_found."+what) }
