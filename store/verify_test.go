package store

import (
	"bytes"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"image"
	"image/jpeg"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	tl "thatch/timeline"
)

// treeOf is every file below dir with its time of change and the hash of its bytes.
func treeOf(t testing.TB, dir string) string {
	t.Helper()
	var b strings.Builder
	for _, name := range filesIn(t, dir) {
		info := must(os.Stat(name))(t)
		fmt.Fprintln(&b, name, info.Size(), info.ModTime(), hexSum(must(os.ReadFile(name))(t)))
	}
	return b.String()
}

func putPicture(t testing.TB, s *Store, sha string) string {
	t.Helper()
	var b bytes.Buffer
	if err := jpeg.Encode(&b, image.NewGray(image.Rect(0, 0, 9, 9)), nil); err != nil {
		t.Fatal(err)
	}
	if err := s.PutDerived(context.Background(), sha, "view", 1, b.Bytes()); err != nil {
		t.Fatal(err)
	}
	return "derived/1/" + sha[:2] + "/" + sha + "-view.jpg"
}

func TestEachKindOfDamageIsNamedAndNothingElse(t *testing.T) {
	ctx := context.Background()
	for name, c := range map[string]struct {
		do   func(t *testing.T, s *Store, shas []string) (file string)
		key  string
		note bool
	}{
		"nothing": {func(*testing.T, *Store, []string) string { return "" }, "", false},
		"a flipped bit": {func(t *testing.T, s *Store, shas []string) string {
			flip(t, s.originalPath(shas[1]), 17)
			return originalFile(shas[1])
		}, "verify.original.damaged", false},
		"a cut photo": {func(t *testing.T, s *Store, shas []string) string {
			return originalFile(cutFile(t, s.originalPath(shas[1])))
		}, "verify.original.damaged", false},
		"a photo that is gone": {func(t *testing.T, s *Store, shas []string) string {
			if err := os.Remove(s.originalPath(shas[2])); err != nil {
				t.Fatal(err)
			}
			return originalFile(shas[2])
		}, "verify.original.missing", false},
		"a folder in the place of a photo": {func(t *testing.T, s *Store, shas []string) string {
			if err := errors.Join(os.Remove(s.originalPath(shas[2])), os.Mkdir(s.originalPath(shas[2]), 0o700)); err != nil {
				t.Fatal(err)
			}
			return originalFile(shas[2])
		}, "verify.original.missing", false},
		"a photo of nobody": {func(t *testing.T, s *Store, shas []string) string {
			sum := hexSum([]byte("nobody's"))
			name := s.originalPath(sum)
			if err := errors.Join(os.MkdirAll(filepath.Dir(name), 0o700), os.WriteFile(name, []byte("nobody's"), 0o600), os.Chtimes(name, noon, noon)); err != nil {
				t.Fatal(err)
			}
			return originalFile(sum)
		}, "verify.original.spare", true},
		"a stranger's file": {func(t *testing.T, s *Store, shas []string) string {
			if err := os.WriteFile(filepath.Join(s.Dir(), photosDir, "note.txt"), []byte("x"), 0o600); err != nil {
				t.Fatal(err)
			}
			return "photos/note.txt"
		}, "verify.stray", true},
		"an upload that broke off": {func(t *testing.T, s *Store, shas []string) string {
			if err := os.WriteFile(filepath.Join(s.Dir(), incomingDir, "in-1"), []byte("x"), 0o600); err != nil {
				t.Fatal(err)
			}
			return "incoming"
		}, "verify.incoming", true},
		"a cut picture": {func(t *testing.T, s *Store, shas []string) string {
			file := putPicture(t, s, shas[0])
			cutFile(t, filepath.Join(s.Dir(), file))
			return file
		}, "verify.derived.damaged", false},
		"no database": {func(t *testing.T, s *Store, shas []string) string {
			for _, end := range []string{"", "-wal", "-shm"} {
				_ = os.Remove(filepath.Join(s.Dir(), dbName+end))
			}
			return dbName
		}, "verify.database.missing", false},
		"a row that names a dog that is not there": {func(t *testing.T, s *Store, shas []string) string {
			if _, err := s.writer.Exec("PRAGMA foreign_keys = 0; UPDATE photo SET dog = 'nobody'"); err != nil {
				t.Fatal(err)
			}
			return dbName
		}, "verify.database.damaged", false},
		"a table that is missing": {func(t *testing.T, s *Store, shas []string) string {
			if _, err := s.writer.Exec("DROP TABLE show_target"); err != nil {
				t.Fatal(err)
			}
			return dbName
		}, "verify.database.damaged", false},
		"a version that does not go with the tables": {func(t *testing.T, s *Store, shas []string) string {
			if _, err := s.writer.Exec("PRAGMA user_version = 2"); err != nil {
				t.Fatal(err)
			}
			return dbName
		}, "verify.database.damaged", false},
		"no database any more": {func(t *testing.T, s *Store, shas []string) string {
			if err := os.WriteFile(filepath.Join(s.Dir(), dbName), []byte(strings.Repeat("noise ", 1000)), 0o600); err != nil {
				t.Fatal(err)
			}
			return dbName
		}, "verify.database.damaged", false},
	} {
		t.Run(name, func(t *testing.T) {
			s, shas := salonOf(t, 3)
			putPicture(t, s, shas[2])
			file := c.do(t, s, shas)
			rep, err := Verify(ctx, s.Dir(), VerifyOptions{})
			if err != nil {
				t.Fatal(err)
			}
			got := append(slices.Clone(rep.Damage), rep.Notes...)
			switch {
			case c.key == "" && len(got) > 0, c.key != "" && (len(got) != 1 || got[0].File != file || got[0].Say.Key != c.key):
				t.Errorf("found %v, want %s: %s", got, file, c.key)
			case c.key != "" && (len(rep.Notes) == 1) != c.note:
				t.Errorf("a note: %v", rep.Notes)
			}
		})
	}
}

// cutFile takes the second half of a file away, and returns its name without the folder.
func cutFile(t testing.TB, name string) string {
	t.Helper()
	info := must(os.Stat(name))(t)
	if err := os.Truncate(name, info.Size()/2); err != nil {
		t.Fatal(err)
	}
	return filepath.Base(name)
}

func TestVerifyingChangesNoByte(t *testing.T) {
	ctx := context.Background()
	dir := t.TempDir()
	s := must(Open(ctx, dir, Options{}))(t)
	addPhotos(t, s, 3)
	// As a process that died leaves it: database and WAL as they lie there now.
	died := t.TempDir()
	if err := os.CopyFS(died, os.DirFS(dir)); err != nil {
		t.Fatal(err)
	}
	if _, err := os.Stat(filepath.Join(died, dbName+"-wal")); err != nil {
		t.Fatal(err)
	}
	wantWhole(t, dir) // while it is open
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	for _, d := range []string{dir, died} {
		before := treeOf(t, d)
		if rep := wantWhole(t, d); rep.Originals != 3 || len(rep.Notes) != 0 {
			t.Errorf("%+v", rep)
		}
		after := treeOf(t, d)
		// The index of a WAL holds nothing that is not in the WAL.
		clean := func(s string) string {
			var keep []string
			for _, line := range strings.Split(s, "\n") {
				if !strings.Contains(line, dbName+"-shm") {
					keep = append(keep, line)
				}
			}
			return strings.Join(keep, "\n")
		}
		if clean(before) != clean(after) {
			t.Errorf("before:\n%s\nafter:\n%s", before, after)
		}
	}
	// A copy elsewhere is what is looked at where the folder cannot be written to.
	l := must(openCopy(filepath.Join(died, dbName)))(t)
	if photos, err := photosOf(ctx, l.DB); err != nil || len(photos) != 3 {
		t.Errorf("%d photos in the copy, %v", len(photos), err)
	}
	kept := l.copy
	if err := l.Close(); err != nil {
		t.Fatal(err)
	}
	if _, err := os.Stat(kept); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("the copy stays: %v", err)
	}
}

func TestVerifyingBesideUploadsFindsNothingWrong(t *testing.T) {
	s, _ := salonOf(t, 1)
	stop := make(chan struct{})
	done := make(chan struct{})
	go func() {
		defer close(done)
		for {
			select {
			case <-stop:
				return
			default:
				addPhotos(t, s, 1)
			}
		}
	}()
	for range 20 {
		rep := wantWhole(t, s.Dir())
		for _, n := range rep.Notes {
			if n.File != incomingDir {
				t.Errorf("%s: %s", n.File, n.Say)
			}
		}
	}
	close(stop)
	<-done
}

func TestANewerSalonIsNotJudged(t *testing.T) {
	s, _ := salonOf(t, 1)
	if _, err := s.writer.Exec("CREATE TABLE later (a TEXT); PRAGMA user_version = 9999"); err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	if _, err := s.writer.Exec("VACUUM INTO ?", filepath.Join(dir, dbName)); err != nil {
		t.Fatal(err)
	}
	_, err := Verify(context.Background(), dir, VerifyOptions{})
	wantKind(t, err, tl.TooNew, "fault.store.too_new")
	_, err = Backup(context.Background(), dir, filepath.Join(t.TempDir(), "b"), BackupOptions{})
	wantKind(t, err, tl.TooNew, "fault.store.too_new")
}

func TestWhereThereIsNothingThatIsSaid(t *testing.T) {
	tmp := t.TempDir()
	note := filepath.Join(tmp, "note.txt")
	if err := os.WriteFile(note, []byte("x"), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, dir := range []string{tmp, note, filepath.Join(tmp, "nowhere")} {
		_, err := Verify(context.Background(), dir, VerifyOptions{})
		wantKind(t, err, tl.NotFound, "fault.verify.nothing")
	}
}

func TestABackupThatHasGoneBadIsNamed(t *testing.T) {
	ctx := context.Background()
	s, shas := salonOf(t, 3)
	base := filepath.Join(t.TempDir(), "base")
	snap := backUp(t, s, base, BackupOptions{}).Snapshot
	for name, c := range map[string]struct {
		file, key string
		do        func(t *testing.T, name string)
	}{
		"photo":         {originalFile(shas[0]), "verify.pool.damaged", func(t *testing.T, n string) { flip(t, n, 9) }},
		"missing photo": {originalFile(shas[0]), "verify.pool.missing", func(t *testing.T, n string) { os.Remove(n) }},
		"database":      {"snapshots/" + snap + "/thatch.db", "verify.snapshot.database", func(t *testing.T, n string) { flip(t, n, 90000) }},
		"manifest":      {"snapshots/" + snap + "/manifest.json", "verify.snapshot.manifest", func(t *testing.T, n string) { flip(t, n, 900) }},
	} {
		t.Run(name, func(t *testing.T) {
			dest := filepath.Join(t.TempDir(), "b")
			if err := os.CopyFS(dest, os.DirFS(base)); err != nil {
				t.Fatal(err)
			}
			c.do(t, filepath.Join(dest, filepath.FromSlash(c.file)))
			rep := must(Verify(ctx, dest, VerifyOptions{}))(t)
			if len(rep.Damage) != 1 || rep.Damage[0].File != c.file || rep.Damage[0].Say.Key != c.key {
				t.Errorf("%v", rep.Damage)
			}
			dir := filepath.Join(t.TempDir(), "new")
			if _, err := Restore(ctx, dest, dir, RestoreOptions{}); err == nil {
				t.Error("it was brought back")
			}
			if _, err := os.Stat(dir); err == nil {
				t.Error("the folder is there")
			}
		})
	}
}

// flips is how many bits are turned over: a few, or THATCH_MANY.
func flips(few int) int {
	if n, err := strconv.Atoi(os.Getenv("THATCH_MANY")); err == nil {
		return n
	}
	return few
}

// A single bit, anywhere in the original: always named, and nothing else is.
func TestEveryFlippedBitOfAnOriginalIsNamed(t *testing.T) {
	s, shas := salonOf(t, 10)
	lot := rand.New(rand.NewPCG(6, 2026))
	n, named := flips(60), 0
	for range n {
		sha := shas[lot.IntN(len(shas))]
		name := s.originalPath(sha)
		bit := lot.Int64N(must(os.Stat(name))(t).Size() * 8)
		flip(t, name, bit)
		rep := must(Verify(context.Background(), s.Dir(), VerifyOptions{}))(t)
		if slices.Equal(filesOf(rep.Damage), []string{originalFile(sha)}) {
			named++
		} else {
			t.Errorf("bit %d of %s: %v", bit, sha, rep.Damage)
		}
		flip(t, name, bit)
	}
	t.Logf("%d of %d flipped bits in originals named", named, n)
}

// A single bit anywhere in the database of a closed salon, in what is read and in what is not.
func TestEveryFlippedBitOfAClosedDatabaseIsFound(t *testing.T) {
	ctx := context.Background()
	dir := t.TempDir()
	s := must(Open(ctx, dir, Options{}))(t)
	for range 5 {
		addPhotos(t, s, 8)
	}
	want := dumpOf(t, filepath.Join(dir, dbName))
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	lot := rand.New(rand.NewPCG(6, 2026))
	name := filepath.Join(dir, dbName)
	size := must(os.Stat(name))(t).Size()
	n := flips(60)
	var verified, started, noSeal, same, changed int
	for range n {
		bit := lot.Int64N(size * 8)
		flip(t, name, bit)
		rep, err := Verify(ctx, dir, VerifyOptions{})
		if err != nil || len(rep.Damage) > 0 {
			verified++
		} else {
			t.Errorf("bit %d of byte %d: verify finds nothing", bit%8, bit/8)
		}
		at := t.TempDir()
		if err := os.CopyFS(at, os.DirFS(dir)); err != nil {
			t.Fatal(err)
		}
		if startRefuses(ctx, at) {
			started++
		} else {
			t.Errorf("bit %d of byte %d: the salon starts", bit%8, bit/8)
		}
		// What is found without the seal, as after a process that died; and what the rest changed.
		if err := copyFile(name, filepath.Join(at, "again.db")); err != nil {
			t.Fatal(err)
		}
		died := t.TempDir()
		if err := copyFile(name, filepath.Join(died, dbName)); err != nil {
			t.Fatal(err)
		}
		switch dump, err := dumpOrError(filepath.Join(at, "again.db")); {
		case startRefuses(ctx, died):
			noSeal++
		case err == nil && dump == want:
			same++
		default:
			changed++
		}
		flip(t, name, bit)
	}
	t.Logf("%d bits of a closed database: verify finds %d, the start %d; without the seal the start finds %d, %d change nothing that is read, %d a value into another that fits", n, verified, started, noSeal, same, changed)
	wantWhole(t, dir) // as it was
}

func startRefuses(ctx context.Context, dir string) bool {
	s, err := Open(ctx, dir, Options{})
	if err != nil {
		return true
	}
	s.Close()
	return false
}

func dumpOf(t testing.TB, name string) string {
	t.Helper()
	return must(dumpOrError(name))(t)
}

// dumpOrError is every row of every table, in the order of its values.
func dumpOrError(name string) (string, error) {
	db, err := sql.Open("sqlite", lookDSN(name, false))
	if err != nil {
		return "", err
	}
	defer db.Close()
	ctx := context.Background()
	schema, err := schemaOf(ctx, db)
	if err != nil {
		return "", err
	}
	var lines []string
	for what := range schema {
		table, ok := strings.CutPrefix(what, "table ")
		if !ok {
			continue
		}
		rows, err := db.QueryContext(ctx, "SELECT * FROM "+table)
		if err != nil {
			return "", err
		}
		cols, err := rows.Columns()
		if err != nil {
			return "", err
		}
		for rows.Next() {
			vals := make([]any, len(cols))
			for i := range vals {
				vals[i] = new(any)
			}
			if err := rows.Scan(vals...); err != nil {
				return "", err
			}
			line := table
			for _, v := range vals {
				line += fmt.Sprintf("|%v", *v.(*any))
			}
			lines = append(lines, line)
		}
		if err := rows.Err(); err != nil {
			return "", err
		}
		rows.Close()
	}
	slices.Sort(lines)
	return strings.Join(lines, "\n"), nil
}
