package tested

import (
	"bufio"
	"context"
	"os"
	"os/exec"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"
)

// Start starts a serving command of the real binary and returns the address that it prints.
func Start(t testing.TB, args ...string) (url string, stop func() error) {
	t.Helper()
	name, err := Built()
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

// OwnersCodeOf has the real binary print a one-time code for the owner of a salon that is being served.
func OwnersCodeOf(t testing.TB, data string) string {
	t.Helper()
	name, err := Built()
	if err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command(name, "owner", "--data", data).Output()
	if err != nil {
		t.Fatal(err)
	}
	lines := strings.Split(strings.TrimSpace(string(out)), "\n")
	return strings.TrimSpace(lines[len(lines)-1])
}
