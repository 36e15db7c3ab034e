package browsed

import (
	"os"
	"os/exec"
	"path/filepath"
	"sync"
	"testing"

	"thatch/cmd/thatch/tested"
)

// drawn is the invented salon, drawn once for all tests of a run: that takes as long as many a test.
var drawn = sync.OnceValues(func() (string, error) {
	name, err := tested.Built()
	if err != nil {
		return "", err
	}
	dir := filepath.Join(filepath.Dir(name), "salon")
	cmd := exec.Command(name, "demo", "--no-serve", "--data", dir)
	cmd.Stderr = os.Stderr
	return dir, cmd.Run()
})

// demo serves a copy of the invented salon, from the folder data or from one of its own.
func demo(t *testing.T, data string) (base string, stop func() error) {
	t.Helper()
	from, err := drawn()
	if err != nil {
		t.Fatal(err)
	}
	if data == "" {
		data = filepath.Join(t.TempDir(), "salon")
	}
	if err := os.CopyFS(data, os.DirFS(from)); err != nil {
		t.Fatal(err)
	}
	return tested.Start(t, "serve", "--data", data)
}
