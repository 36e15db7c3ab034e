package main

import (
	"bufio"
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/testscript"
)

// builtBinary is the real program, built once a test run.
var builtBinary = sync.OnceValues(func() (string, error) {
	built.Store(true)
	dir, err := os.MkdirTemp("", "thatch-test-")
	if err != nil {
		return "", err
	}
	name := filepath.Join(dir, "thatch")
	if runtime.GOOS == "windows" {
		name += ".exe"
	}
	out, err := exec.Command("go", "build", "-o", name, ".").CombinedOutput()
	if err != nil {
		return "", fmt.Errorf("go build: %w\n%s", err, out)
	}
	return name, nil
})

// TestMain also lets the test binary be the commands that stories call.
func TestMain(m *testing.M) { testscript.Main(cleaned{m}, commandsOfStories()) }

// cleaned takes the binary away after the last test.
type cleaned struct{ m *testing.M }

func (c cleaned) Run() int {
	code := c.m.Run()
	if built.Load() {
		if name, err := builtBinary(); err == nil {
			os.RemoveAll(filepath.Dir(name))
		}
	}
	return code
}

var built atomic.Bool

// start starts a serving command of the real binary and returns the address that it prints.
func start(t *testing.T, args ...string) (url string, stop func() error) {
	t.Helper()
	name, err := builtBinary()
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(name, append(args, "--listen", "127.0.0.1:0")...)
	cmd.Stderr = os.Stderr
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	ended := sync.OnceValue(func() error {
		if err := cmd.Process.Signal(os.Interrupt); err != nil {
			return err
		}
		done := make(chan error, 1)
		go func() { done <- cmd.Wait() }()
		select {
		case err := <-done:
			return err
		case <-time.After(30 * time.Second):
			_ = cmd.Process.Kill()
			return context.DeadlineExceeded
		}
	})
	t.Cleanup(func() { _ = ended() })
	lines := bufio.NewScanner(out)
	for lines.Scan() {
		if m := regexp.MustCompile(`http://[0-9.:]+`).FindString(lines.Text()); m != "" {
			go func() {
				for lines.Scan() {
				}
			}()
			return m, ended
		}
	}
	t.Fatal("the program ended without an address")
	return "", nil
}
