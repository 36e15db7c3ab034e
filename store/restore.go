package store

import (
	"context"
	"errors"
	"io/fs"
	"path/filepath"
	"time"

	tl "thatch/timeline"
)

// RestoreOptions; the zero options are those of production.
type RestoreOptions struct {
	FS             FS     // nil: the operating system's
	Snapshot       string // of a backup folder; "": the newest whole one
	WithoutDamaged bool   // what is damaged in the backup is left out instead of refusing the whole
	Progress       func(done, total int, what string)
}

// RestoreReport is what was brought back.
type RestoreReport struct {
	Snapshot    string // its name in the folder; "" of a file
	MadeAt      time.Time
	Photos      int
	Bytes       int64
	Lost        []string // photos that the salon had lost before the backup was made
	Damaged     []string // files of the backup that are damaged
	Interrupted []string // newer snapshots that were never finished
}

// buildingEnding names the folder beside the new one in which it is built.
const buildingEnding = ".restoring"

// Restore builds the salon of a backup, a folder or a file, in dir, which must not exist yet or be empty. It is built beside
// dir, read back and verified as Verify does, made durable, and only then given its name: at any moment dir is not there, or
// whole. No other folder is touched.
//
// Faults: NotFound without a backup, Invalid for one that is incomplete, Conflict where dir is in use, Busy where another
// restore is at it, NoSpace, TooNew, Internal where the backup is damaged (the report says where).
func Restore(ctx context.Context, src, dir string, opt RestoreOptions) (rep RestoreReport, err error) {
	if opt.FS == nil {
		opt.FS = osFS{}
	}
	if opt.Progress == nil {
		opt.Progress = func(int, int, string) {}
	}
	const op = "restore"
	if src, err = filepath.Abs(src); err != nil {
		return rep, fault(op, err)
	}
	if dir, err = filepath.Abs(dir); err != nil {
		return rep, fault(op, err)
	}
	rep = RestoreReport{Lost: []string{}, Damaged: []string{}, Interrupted: []string{}}
	r := restoring{RestoreOptions: opt, src: src, dir: dir, rep: &rep}
	err = r.run(ctx)
	if err != nil && noSpace(err) {
		err = tl.NewFault(tl.NoSpace, "fault.backup.no_space", "dest", dir).Because(err)
	}
	return rep, fault(op, err)
}

type restoring struct {
	RestoreOptions
	src, dir string
	building string
	rep      *RestoreReport
}

func (r *restoring) run(ctx context.Context) error {
	info, err := r.FS.Stat(r.src)
	if errors.Is(err, fs.ErrNotExist) {
		return r.noBackup()
	}
	if err != nil {
		return err
	}
	if err := r.checkDir(); err != nil {
		return err
	}
	fill := r.fromFile
	if info.IsDir() {
		m, at, err := r.choose()
		if err != nil {
			return err
		}
		fill = func(ctx context.Context) (Manifest, error) { return m, r.fromFolder(ctx, at, m) }
	} else if err := r.fileWhole(); err != nil {
		return err
	}

	parent := filepath.Dir(r.dir)
	r.building = filepath.Join(parent, "."+filepath.Base(r.dir)+buildingEnding)
	lock := r.building + ".lock"
	free, err := lockFile(lock, true)
	if errors.Is(err, errTaken) {
		return tl.NewFault(tl.Busy, "fault.restore.busy", "dir", r.dir)
	}
	if err != nil {
		return err
	}
	defer func() {
		// Gone before it is free: who opened it meanwhile would have the lock of a file that has no name any more. Windows
		// does not take an open file away.
		gone := r.FS.Remove(lock)
		if free(); gone != nil {
			_ = r.FS.Remove(lock)
		}
	}()
	if err := removeAll(r.FS, r.building); err != nil { // of one that was killed
		return err
	}
	if err := r.build(ctx, fill); err != nil {
		_ = removeAll(r.FS, r.building)
		return err
	}
	return r.FS.SyncDir(parent)
}

// build fills the folder beside, verifies it and gives it its name.
func (r *restoring) build(ctx context.Context, fill func(context.Context) (Manifest, error)) error {
	for _, d := range []string{r.building, filepath.Join(r.building, photosDir), r.incoming()} {
		if err := r.FS.MkdirAll(d); err != nil {
			return err
		}
	}
	m, err := fill(ctx)
	if err != nil {
		return err
	}
	for _, f := range m.Lost {
		if _, err := r.FS.Stat(pooled(r.building, f.SHA256)); err != nil {
			r.rep.Lost = append(r.rep.Lost, originalFile(f.SHA256))
		}
	}
	if len(r.rep.Damaged) > 0 && (!r.WithoutDamaged || r.rep.Damaged[0] == dbName) {
		return tl.NewFault(tl.Internal, "fault.restore.damaged", "n", len(r.rep.Damaged), "file", r.rep.Damaged[0])
	}
	r.rep.MadeAt = m.MadeAt
	r.rep.Photos = len(m.Photos) - len(r.rep.Damaged) + len(m.Lost) - len(r.rep.Lost)
	if err := r.syncAll(); err != nil {
		return err
	}
	if err := r.check(ctx); err != nil {
		return err
	}
	if err := r.FS.Remove(r.dir); err != nil && !errors.Is(err, fs.ErrNotExist) { // an empty one
		return err
	}
	return r.FS.Rename(r.building, r.dir)
}

func (r *restoring) incoming() string { return filepath.Join(r.building, incomingDir) }

func (r *restoring) noBackup() error {
	return tl.NewFault(tl.NotFound, "fault.restore.no_backup", "src", r.src).In("src")
}

// checkDir refuses a folder with anything in it, whatever it is.
func (r *restoring) checkDir() error {
	if in, err := inside(r.src, r.dir); err != nil || in {
		return errors.Join(err, tl.NewFault(tl.Invalid, "fault.restore.inside", "dir", r.dir).In("data"))
	}
	entries, err := r.FS.ReadDir(r.dir)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		if _, err := r.FS.Stat(filepath.Dir(r.dir)); errors.Is(err, fs.ErrNotExist) {
			return tl.NewFault(tl.Invalid, "fault.restore.no_parent", "dir", filepath.Dir(r.dir)).In("data")
		}
		return nil
	case err != nil || len(entries) > 0:
		return tl.NewFault(tl.Conflict, "fault.restore.not_empty", "dir", r.dir).In("data").Because(err)
	}
	return nil
}

// fileWhole refuses what is no backup file, and one that was interrupted.
func (r *restoring) fileWhole() error {
	if !IsBackupFile(r.src) {
		return r.noBackup()
	}
	f, err := r.FS.Open(r.src)
	if err != nil {
		return err
	}
	defer f.Close()
	return endsWhole(f)
}
