//go:build !race

package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// One goroutine and a database opened hundreds of times: the race detector finds nothing here and takes minutes.

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
