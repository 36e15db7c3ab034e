//go:build linux || darwin

package main

import (
	"bufio"
	"io"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"thatch/cmd/thatch/tested"
)

// drillOf are the commands of the README's drill, as they stand there.
func drillOf(t *testing.T) []string {
	t.Helper()
	b, err := os.ReadFile("../../README.md")
	if err != nil {
		t.Fatal(err)
	}
	_, part, ok := strings.Cut(string(b), "## Backups, and the drill\n")
	if !ok {
		t.Fatal("the README has no drill")
	}
	part, _, _ = strings.Cut(part, "\n## ")
	m := regexp.MustCompile("(?s)```\n(.*?)\n```").FindStringSubmatch(part)
	if m == nil {
		t.Fatal("the drill has no commands")
	}
	return strings.Split(m[1], "\n")
}

func TestTheDrillOfTheREADMEWorksWordForWord(t *testing.T) {
	name, err := tested.Built()
	if err != nil {
		t.Fatal(err)
	}
	lines := drillOf(t)
	if len(lines) < 5 {
		t.Fatalf("the drill is %q", lines)
	}
	for _, must := range []string{" backup ", " restore ", " verify ", "mv "} {
		if !strings.Contains(strings.Join(lines, "\n"), must) {
			t.Errorf("the drill has no%s", must)
		}
	}
	dir := t.TempDir()
	if err := os.Symlink(name, filepath.Join(dir, "thatch")); err != nil {
		t.Fatal(err)
	}
	last := len(lines) - 1
	said := ""
	for _, line := range lines[:last] {
		cmd := exec.Command("sh", "-c", line)
		cmd.Dir = dir
		out, err := cmd.CombinedOutput()
		if err != nil {
			t.Fatalf("%s: %v\n%s", line, err, out)
		}
		said += string(out)
	}
	if !strings.Contains(said, "and verified: 2 photos") || !strings.Contains(said, "is whole: 2 photos") {
		t.Errorf("the drill says\n%s", said)
	}

	// The last line serves; only the port is a free one.
	serve := strings.Fields(lines[last])
	if serve[0] != "./thatch" || serve[1] != "serve" {
		t.Fatalf("the drill ends with %q", lines[last])
	}
	cmd := exec.Command(filepath.Join(dir, "thatch"), append(serve[1:], "--listen", "127.0.0.1:0")...)
	cmd.Dir = dir
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	defer func() { _ = cmd.Process.Signal(os.Interrupt); _ = cmd.Wait() }()
	line, err := bufio.NewReader(out).ReadString('\n')
	if err != nil {
		t.Fatal(err)
	}
	url := regexp.MustCompile(`http://[0-9.:]+`).FindString(line)
	answer, err := http.Get(url + "/api/v1/dogs/Burdock/timeline")
	if err != nil {
		t.Fatal(err)
	}
	defer answer.Body.Close()
	body, err := io.ReadAll(answer.Body)
	if err != nil {
		t.Fatal(err)
	}
	if n := strings.Count(string(body), `"sha256"`); answer.StatusCode != http.StatusOK || n != 2 {
		t.Errorf("%s, %d photos: %s", answer.Status, n, body)
	}
}
