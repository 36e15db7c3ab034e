package store

import (
	"context"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"

	tl "thatch/timeline"
)

// A backup folder has one pool of photos and any number of snapshots, each a copy of the database and a manifest:
//
//	photos/ab/<sha256>                  as in the data folder; shared by all snapshots
//	snapshots/<when>/thatch.db
//	snapshots/<when>/manifest.json      written last: without it there is no backup
//	incoming/                           what is being written
//	backup.lock                         one backup at a time
//
// A backup file is a tar of thatch.db, photos/ab/<sha256> and, last, manifest.json.
const (
	snapshotsDir = "snapshots"
	manifestName = "manifest.json"
	lockName     = "backup.lock"
	tarEnding    = ".tar"
	partEnding   = ".partial" // folder beside a tar that is being written
)

// BackupOptions; the zero options are those of production.
type BackupOptions struct {
	FS       FS               // of the destination and of the photos; nil: the operating system's
	Now      func() time.Time // nil: time.Now
	Program  string           // who makes it, for the manifest
	Prune    bool             // afterwards only 7 daily, 4 weekly and 12 monthly snapshots are kept
	Progress func(done, total int, what string)
}

// BackupReport is what a backup did.
type BackupReport struct {
	Dest      string
	Snapshot  string // its name in the folder; "" of a file
	MadeAt    time.Time
	Photos    int // in the backup
	Copied    int // by this run; the others were there
	Bytes     int64
	CopyBytes int64
	Damaged   []Finding // photos of the data folder that are damaged or gone
	Lost      int       // how many of these are not in the backup either
	Pruned    []string  // names of snapshots that were thrown away
}

// IsBackupFile reports whether a backup of this name is one file: its name ends in .tar. Everything else is a folder.
func IsBackupFile(dest string) bool { return strings.EqualFold(filepath.Ext(dest), tarEnding) }

// Backup copies the salon in dir, which may be open and in use, to a folder or a file (IsBackupFile). Photos that are in the
// folder already are not copied again. When it returns without error the backup is whole and durable; until then what is there
// of it is refused as incomplete, and backups that were there stay as they are.
//
// The order is: hold the originals → snapshot of the database → the photos it names → the names of their folders → database →
// manifest → its folder. A photo whose bytes do not have the hash of its name is never copied.
//
// Faults: NotFound without a salon, Invalid or Conflict for a destination that cannot be one, Busy where another backup is at
// it, NoSpace, Internal for a database that is damaged.
func Backup(ctx context.Context, dir, dest string, opt BackupOptions) (rep BackupReport, err error) {
	if opt.FS == nil {
		opt.FS = osFS{}
	}
	if opt.Now == nil {
		opt.Now = time.Now
	}
	if opt.Progress == nil {
		opt.Progress = func(int, int, string) {}
	}
	op := "back up"
	if dir, err = filepath.Abs(dir); err != nil {
		return rep, fault(op, err)
	}
	if dest, err = filepath.Abs(dest); err != nil {
		return rep, fault(op, err)
	}
	if err := CheckBackupDest(dir, dest); err != nil {
		return rep, fault(op, err)
	}
	if err := salonIn(opt.FS, dir); err != nil {
		return rep, fault(op, err)
	}
	rep = BackupReport{Dest: dest, MadeAt: opt.Now().UTC().Truncate(time.Millisecond), Damaged: []Finding{}, Pruned: []string{}}
	b := backup{BackupOptions: opt, dir: dir, dest: dest, rep: &rep}
	if IsBackupFile(dest) {
		err = b.toFile(ctx)
	} else {
		err = b.toFolder(ctx)
	}
	return rep, b.fault(op, err)
}

// backup is one at work.
type backup struct {
	BackupOptions
	dir, dest string
	rep       *BackupReport
}

// fault names the place that is full or cannot be written to: it is seldom the salon's own disk.
func (b *backup) fault(op string, err error) error {
	var f *tl.Fault
	switch {
	case err == nil || errors.As(err, &f):
	case noSpace(err):
		err = tl.NewFault(tl.NoSpace, "fault.backup.no_space", "dest", b.dest).Because(err)
	case errors.Is(err, fs.ErrPermission):
		err = tl.NewFault(tl.Internal, "fault.backup.unwritable", "dest", b.dest).Because(err)
	case codeOf(err) == 0 && !errors.Is(err, context.Canceled) && !errors.Is(err, context.DeadlineExceeded):
		err = tl.NewFault(tl.Internal, "fault.backup.trouble", "dest", b.dest).Because(err)
	}
	return fault(op, err)
}

// salonIn refuses a folder without a salon, and one of a newer version.
func salonIn(fsys FS, dir string) error {
	db := filepath.Join(dir, dbName)
	if _, err := fsys.Stat(db); errors.Is(err, fs.ErrNotExist) {
		return tl.NewFault(tl.NotFound, "fault.store.no_salon", "dir", dir)
	}
	return withDir((&Store{fs: fsys}).peek(db), dir)
}

// CheckBackupDest refuses a destination that can never be one: inside of the data folder, around it, or a file that is no
// backup's. Nothing is written.
func CheckBackupDest(dir, dest string) error {
	in, err := inside(dir, dest)
	if err != nil {
		return err
	}
	around, err := inside(dest, dir)
	if err != nil {
		return err
	}
	if in || around {
		return tl.NewFault(tl.Invalid, "fault.backup.inside", "dest", dest).In("dest")
	}
	info, err := os.Stat(dest)
	switch {
	case errors.Is(err, fs.ErrNotExist) || errors.Is(err, fs.ErrPermission):
		return nil
	case err != nil:
		return tl.NewFault(tl.Invalid, "fault.backup.dest", "dest", dest).In("dest").Because(err)
	case IsBackupFile(dest) && info.IsDir():
		return tl.NewFault(tl.Invalid, "fault.backup.tar_folder", "dest", dest).In("dest")
	case !IsBackupFile(dest) && !info.IsDir():
		return tl.NewFault(tl.Invalid, "fault.backup.not_folder", "dest", dest).In("dest")
	}
	return nil
}

// inside reports whether name is dir or lies in it, links followed as far as the names exist.
func inside(dir, name string) (bool, error) {
	d, err := real(dir)
	if err != nil {
		return false, err
	}
	n, err := real(name)
	if err != nil {
		return false, err
	}
	rel, err := filepath.Rel(d, n)
	if err != nil {
		return false, nil // another drive
	}
	return rel != ".." && !strings.HasPrefix(rel, ".."+string(filepath.Separator)), nil
}

func real(name string) (string, error) {
	name, err := filepath.Abs(name)
	if err != nil {
		return "", err
	}
	end := ""
	for at := name; ; at = filepath.Dir(at) {
		r, err := filepath.EvalSymlinks(at)
		if err == nil {
			return filepath.Join(r, end), nil
		}
		if filepath.Dir(at) == at {
			return name, nil
		}
		end = filepath.Join(filepath.Base(at), end)
	}
}

// stage is where the snapshot is first written: in the data folder, for SQLite wants locks that a disk in the network may not
// have; beside the backup where the data folder has no room left, which is when a backup is wanted most.
func (b *backup) stage(ctx context.Context, beside string) (snapshot, error) {
	return takeSnapshot(ctx, b.dir, filepath.Join(b.dir, incomingDir), beside)
}

func (b *backup) manifest(s snapshot, db ManifestFile, photos, lost []ManifestFile) Manifest {
	return Manifest{Format: manifestFormat, Program: b.Program, Schema: s.schema, MadeAt: b.rep.MadeAt, Database: db, Count: len(photos), Photos: photos, Lost: lost}
}

// source is where an original lies in the data folder.
func (b *backup) source(sha string) string { return pooled(b.dir, sha) }

// pooled is where a photo lies in a data folder, and in a backup's.
func pooled(dir, sha string) string { return filepath.Join(dir, photosDir, sha[:2], sha) }
