package store

import (
	"context"
	"errors"
	"io/fs"
	"path"
	"path/filepath"
	"time"

	tl "thatch/timeline"
)

// What was verified.
const (
	OfSalon      = "salon"
	OfBackup     = "backup"      // a folder
	OfBackupFile = "backup_file" // a tar
)

// VerifyOptions; the zero options are those of production.
type VerifyOptions struct {
	FS       FS // nil: the operating system's
	Progress func(done, total int, what string)
}

// VerifyReport is what was looked at, and what was found.
type VerifyReport struct {
	Of        string    // OfSalon, OfBackup, OfBackupFile
	Originals int       // photo files that were read
	Bytes     int64     // of these
	Derived   int       // pictures made from them that were read
	Snapshots int       // whole ones of a backup
	Damage    []Finding // something is lost, or shown wrong
	Notes     []Finding // harmless
}

// Verify reads everything that a salon or a backup keeps and names what is damaged. It changes no byte of it, and may run
// beside a program that serves the salon. A damaged database is a finding too: photos are then still held against the hashes
// that are their names.
//
// Faults: NotFound where there is neither a salon nor a backup, TooNew.
func Verify(ctx context.Context, dir string, opt VerifyOptions) (VerifyReport, error) {
	const op = "verify"
	if opt.FS == nil {
		opt.FS = osFS{}
	}
	if opt.Progress == nil {
		opt.Progress = func(int, int, string) {}
	}
	abs, err := filepath.Abs(dir)
	if err != nil {
		return VerifyReport{}, fault(op, err)
	}
	v := verifier{VerifyOptions: opt, dir: abs, VerifyReport: VerifyReport{Of: OfSalon, Damage: []Finding{}, Notes: []Finding{}}}
	switch of, err := v.what(); {
	case err != nil:
		return VerifyReport{}, fault(op, err)
	case of == "":
		return VerifyReport{}, tl.NewFault(tl.NotFound, "fault.verify.nothing", "dir", dir).At(op)
	default:
		v.Of = of
	}
	switch v.Of {
	case OfBackup:
		err = v.backup(ctx)
	case OfBackupFile:
		err = v.backupFile(ctx)
	default:
		err = v.salon(ctx)
	}
	return v.VerifyReport, fault(op, err)
}

type verifier struct {
	VerifyOptions
	VerifyReport
	dir string
}

// what lies there; "" nothing of ours.
func (v *verifier) what() (string, error) {
	info, err := v.FS.Stat(v.dir)
	if errors.Is(err, fs.ErrNotExist) {
		return "", nil
	}
	if err != nil {
		return "", err
	}
	if !info.IsDir() {
		if IsBackupFile(v.dir) {
			return OfBackupFile, nil
		}
		return "", nil
	}
	there := func(name string) bool { _, err := v.FS.Stat(filepath.Join(v.dir, name)); return err == nil }
	switch {
	case there(dbName):
		return OfSalon, nil
	case there(snapshotsDir):
		return OfBackup, nil
	case there(photosDir): // a salon that has lost its database
		return OfSalon, nil
	}
	return "", nil
}

func (v *verifier) damage(f Finding)                 { v.Damage = append(v.Damage, f) }
func (v *verifier) wrong(file, key string, a ...any) { v.damage(Finding{file, tl.Say(key, a...)}) }
func (v *verifier) note(file, key string, a ...any) {
	v.Notes = append(v.Notes, Finding{file, tl.Say(key, a...)})
}

func (v *verifier) salon(ctx context.Context) error {
	db, err := v.database(ctx)
	if err != nil {
		return err
	}
	if err := v.originals(ctx, db); err != nil {
		return err
	}
	if err := v.derivatives(ctx); err != nil {
		return err
	}
	return v.leftOvers()
}

// originals reads every file under photos/, whatever the database says, then looks for those that the database names.
func (v *verifier) originals(ctx context.Context, db databaseSays) error {
	files, err := v.photoFiles()
	if err != nil {
		return err
	}
	whole := map[string]int64{}
	var spare []string
	for i, name := range files {
		v.Progress(i, len(files), name)
		sha := path.Base(name)
		got, err := v.hash(ctx, name)
		if err := ctx.Err(); err != nil {
			return err
		}
		if errors.Is(err, fs.ErrNotExist) {
			continue // thrown away since it was listed; one that should be there is looked for below
		}
		v.Originals, v.Bytes = v.Originals+1, v.Bytes+got.Bytes
		_, named := db.photos[sha]
		switch {
		case db.readable && !named:
			spare = append(spare, name)
		case err != nil || got.SHA256 != sha:
			v.damage(damagedOriginal(sha, err))
			whole[sha] = -1
		default:
			whole[sha] = got.Bytes
		}
	}
	v.Progress(len(files), len(files), "")
	var missing []string
	for sha, bytes := range db.photos {
		if has, ok := whole[sha]; !ok {
			missing = append(missing, sha)
		} else if has >= 0 && has != bytes {
			v.wrong(dbName, "verify.database.bytes", "file", originalFile(sha))
		}
	}
	return v.unpaired(ctx, missing, spare)
}

// unpaired are rows without file and files without row. Beside a running salon they may be of photos that came or went
// meanwhile: the database is asked again.
func (v *verifier) unpaired(ctx context.Context, missing, spare []string) error {
	if len(missing)+len(spare) == 0 {
		return nil
	}
	now, err := v.askPhotos(ctx)
	if err != nil {
		return err
	}
	for _, sha := range sorted(missing) {
		if _, ok := now[sha]; ok {
			v.damage(damagedOriginal(sha, fs.ErrNotExist))
		}
	}
	for _, name := range spare {
		if _, ok := now[path.Base(name)]; ok || v.young(name) {
			continue
		}
		v.note(name, "verify.original.spare")
	}
	return nil
}

// youngFile is how long a photo may wait for its row: it is in its place before the row is committed.
const youngFile = 10 * time.Minute

func (v *verifier) young(name string) bool {
	info, err := v.FS.Stat(filepath.Join(v.dir, filepath.FromSlash(name)))
	return err != nil || time.Since(info.ModTime()) < youngFile
}

func (v *verifier) hash(ctx context.Context, name string) (ManifestFile, error) {
	return hashFile(ctx, v.FS, filepath.Join(v.dir, filepath.FromSlash(name)))
}

// photoFiles are the files under photos/ that have the name of an original; others are noted.
func (v *verifier) photoFiles() ([]string, error) {
	var out []string
	err := v.walk(photosDir, func(name string) {
		sha := path.Base(name)
		if shaShape.MatchString(sha) && name == originalFile(sha) {
			out = append(out, name)
		} else {
			v.note(name, "verify.stray")
		}
	})
	return out, err
}

// walk tells every file below the folder, which need not be there.
func (v *verifier) walk(dir string, tell func(name string)) error {
	entries, err := v.FS.ReadDir(filepath.Join(v.dir, filepath.FromSlash(dir)))
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return err
	}
	for _, e := range entries {
		name := path.Join(dir, e.Name())
		if e.IsDir() {
			if err := v.walk(name, tell); err != nil {
				return err
			}
			continue
		}
		tell(name)
	}
	return nil
}

// leftOvers are files that were being received when a process died, or are being received now.
func (v *verifier) leftOvers() error {
	n := 0
	if err := v.walk(incomingDir, func(string) { n++ }); err != nil {
		return err
	}
	if n > 0 {
		v.note(incomingDir, "verify.incoming", "n", n)
	}
	return nil
}
