// Package outside finds, for tests only, the corpora that lie beside the project and are never part of it: real camera
// files, photos, reference transforms, certified regression data; and the reference programs that they ask.
package outside

import (
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"testing"
)

// NoSkip reports whether tests must run everything: set where the continuous check runs.
func NoSkip() bool { return os.Getenv("THATCH_NO_SKIP") == "1" }

// Many is how many cases a test of random ones looks at: as many as THATCH_MANY says, for figures; else the usual few.
func Many(t testing.TB, usual int) int {
	t.Helper()
	said := os.Getenv("THATCH_MANY")
	if said == "" {
		return usual
	}
	n, err := strconv.Atoi(said)
	if err != nil || n < 1 {
		t.Fatalf("THATCH_MANY is a number of cases, not %q", said)
	}
	return n
}

// ManyOf is Many for cases each of which says all by itself: the race detector, who is ten times as slow and looks at the code
// and not at the cases, is given a twelfth of them.
func ManyOf(t testing.TB, usual int) int {
	t.Helper()
	return Many(t, max(1, usual/slower))
}

// Alone marks a test whose work runs in one thread, most of it in pixels or a coat's arithmetic: under the race detector, who
// finds nothing there and takes eight times as long, it is left out. The plain run has it.
func Alone(t testing.TB) {
	t.Helper()
	if slower > 1 {
		t.Skip("one thread's work: not for the race detector")
	}
}

// Skip skips the test with one clear line, or fails it where skipping is forbidden.
func Skip(t testing.TB, why string) {
	t.Helper()
	if NoSkip() {
		t.Fatalf("skipping is forbidden here: %s", why)
	}
	t.Skip(why)
}

// Dir is the path of a corpus: the folder THATCH_TESTDATA names, else ../shared/data beside the checkout.
func Dir(t testing.TB, corpus string) string {
	t.Helper()
	dir, ok := Find(t, corpus)
	if !ok {
		Skip(t, "the corpus "+corpus+" is not here (set THATCH_TESTDATA)")
	}
	return dir
}

// Find is Dir for a test that can do without the corpus: ok says whether it is here.
func Find(t testing.TB, corpus string) (dir string, ok bool) {
	t.Helper()
	root := os.Getenv("THATCH_TESTDATA")
	if root == "" {
		root = filepath.Join(moduleRoot(t), "..", "shared", "data")
	}
	dir = filepath.Join(root, corpus)
	_, err := os.Stat(dir)
	return dir, err == nil
}

// Tool is the path of a reference program that only tests call; where it is not installed the test is skipped, and the
// line says which of Debian's packages has it.
func Tool(t testing.TB, name, debianPackage string) string {
	t.Helper()
	path, err := exec.LookPath(name)
	if err != nil {
		Skip(t, "the reference program "+name+" is not here (Debian: "+debianPackage+")")
	}
	return path
}

func moduleRoot(t testing.TB) string {
	t.Helper()
	dir, err := os.Getwd()
	if err != nil {
		t.Fatal(err)
	}
	for {
		if _, err := os.Stat(filepath.Join(dir, "go.mod")); err == nil {
			return dir
		}
		up := filepath.Dir(dir)
		if up == dir {
			t.Fatal("no go.mod above the test's folder")
		}
		dir = up
	}
}
