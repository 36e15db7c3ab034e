//go:build !windows

package endure_test

import (
	"bytes"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"thatch/cmd/thatch/tested"
)

func TestADamagedDatabaseIsFoundAtTheNextStartAndLeftAlone(t *testing.T) {
	program, err := tested.Built()
	if err != nil {
		t.Fatal(err)
	}
	s := newSalonUnderFire(t)
	cmd, address, _ := launch(t, program, s.data)
	s.begin(t, address, 2)
	s.client.CloseIdleConnections()
	_ = cmd.Process.Signal(os.Interrupt)
	if err := cmd.Wait(); err != nil {
		t.Fatal(err)
	}
	name := filepath.Join(s.data, "thatch.db")
	whole, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	note := bytes.Index(whole, []byte("Burdock 1"))
	for what, damage := range map[string]func(b []byte){
		"a lost page":        func(b []byte) { clear(b[8192:12288]) },
		"one flipped bit":    func(b []byte) { b[len(b)/2] ^= 4 },
		"a letter of a name": func(b []byte) { b[note+2] ^= 1 },
	} {
		t.Run(what, func(t *testing.T) {
			b := bytes.Clone(whole)
			damage(b)
			dir := filepath.Join(t.TempDir(), "salon")
			if err := os.CopyFS(dir, os.DirFS(s.data)); err != nil {
				t.Fatal(err)
			}
			db := filepath.Join(dir, "thatch.db")
			if err := os.WriteFile(db, b, 0o600); err != nil {
				t.Fatal(err)
			}
			out, err := exec.Command(program, "serve", "--data", dir, "--listen", "127.0.0.1:0").CombinedOutput()
			var exit *exec.ExitError
			if !errors.As(err, &exit) || exit.ExitCode() != 1 || !strings.Contains(string(out), "thatch restore") {
				t.Errorf("%v\n%s", err, out)
			}
			if now, err := os.ReadFile(db); err != nil || !bytes.Equal(now, b) {
				t.Errorf("the damaged file was changed: %v", err)
			}
		})
	}
}
