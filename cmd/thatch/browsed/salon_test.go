package browsed

import (
	"os"
	"os/exec"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"thatch/cmd/thatch/tested"
)

// drawn is the invented salon, drawn once for all tests of a run, which takes as long as many a test; and once more where
// midnight passes meanwhile, for its visits of today are then those of yesterday.
var drawn struct {
	sync.Mutex
	day, dir string
}

func drawnToday() (string, error) {
	drawn.Lock()
	defer drawn.Unlock()
	today := time.Now().Format(time.DateOnly)
	if drawn.day == today {
		return drawn.dir, nil
	}
	name, err := tested.Built()
	if err != nil {
		return "", err
	}
	dir := filepath.Join(filepath.Dir(name), "salon "+today)
	cmd := exec.Command(name, "demo", "--no-serve", "--data", dir)
	cmd.Stderr = os.Stderr
	if err := cmd.Run(); err != nil {
		return "", err
	}
	drawn.day, drawn.dir = today, dir
	return dir, nil
}

// demo serves a copy of the invented salon, from the folder data or from one of its own.
func demo(t *testing.T, data string) (base string, stop func() error) {
	t.Helper()
	from, err := drawnToday()
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
