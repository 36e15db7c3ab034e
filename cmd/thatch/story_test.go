package main

import (
	"context"
	"database/sql"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"hash/crc32"
	"net"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/testscript"
	_ "modernc.org/sqlite"

	"thatch/timeline/outside"
)

// commandsOfStories are what a script may call beside the program itself.
func commandsOfStories() map[string]func() {
	return map[string]func(){
		"thatch": func() { os.Exit(run(context.Background(), os.Args[1:], os.Stdout, os.Stderr)) },
		// hugepng FILE: a PNG whose header says 60,000 × 60,000 px.
		"hugepng": func() { end(os.WriteFile(os.Args[1], pngHeader(60000, 60000), 0o644)) },
		// cut FILE OUT: its first half.
		"cut": func() {
			b, err := os.ReadFile(os.Args[1])
			if err == nil {
				err = os.WriteFile(os.Args[2], b[:len(b)/2], 0o644)
			}
			end(err)
		},
		// fromthefuture DIR: the database says that a newer program wrote it.
		"fromthefuture": func() {
			db, err := sql.Open("sqlite", filepath.Join(os.Args[1], "thatch.db"))
			if err == nil {
				_, err = db.Exec("PRAGMA user_version = 9999")
			}
			if err == nil {
				err = db.Close()
			}
			end(err)
		},
		// daysfromnow FILE: replaces {today}, {+70} … by days.
		"daysfromnow": func() {
			b, err := os.ReadFile(os.Args[1])
			if err == nil {
				s := string(b)
				for n := -400; n <= 400; n++ {
					s = strings.ReplaceAll(s, fmt.Sprintf("{%+d}", n), time.Now().UTC().AddDate(0, 0, n).Format(time.DateOnly))
				}
				err = os.WriteFile(os.Args[1], []byte(s), 0o644)
			}
			end(err)
		},
	}
}

func end(err error) {
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
	os.Exit(0)
}

func pngHeader(w, h uint32) []byte {
	chunk := func(kind string, data []byte) []byte {
		b := binary.BigEndian.AppendUint32(nil, uint32(len(data)))
		b = append(append(b, kind...), data...)
		return binary.BigEndian.AppendUint32(b, crc32.ChecksumIEEE(b[4:]))
	}
	ihdr := binary.BigEndian.AppendUint32(binary.BigEndian.AppendUint32(nil, w), h)
	b := append([]byte("\x89PNG\r\n\x1a\n"), chunk("IHDR", append(ihdr, 8, 2, 0, 0, 0))...)
	return append(b, chunk("IEND", nil)...)
}

func TestStories(t *testing.T) {
	testscript.Run(t, testscript.Params{Dir: "testdata/script", Cmds: checksOfStories, UpdateScripts: *update, Setup: func(e *testscript.Env) error {
		ln, err := net.Listen("tcp", "127.0.0.1:0") // a port that is in use
		if err != nil {
			return err
		}
		e.Defer(func() { ln.Close() })
		e.Setenv("TAKEN", ln.Addr().String())
		return nil
	}})
}

// The corpora: every readable JPEG, PNG and WebP is added, every other file is refused by name, a second run adds none.
func TestRealCameraFilesAreAddedOnceOrRefusedByName(t *testing.T) {
	dirs := []string{outside.Dir(t, "photos"), filepath.Join(outside.Dir(t, "exif"), "files")}
	files := 0
	for _, d := range dirs {
		entries, err := os.ReadDir(d)
		if err != nil {
			t.Fatal(err)
		}
		for _, e := range entries {
			if !e.IsDir() {
				files++
			}
		}
	}
	data := t.TempDir()
	add := func() addReport {
		var out, errs strings.Builder
		code := run(t.Context(), append([]string{"add", "--data", data, "--dog", "Bracken", "--create", "--json"}, dirs...), &out, &errs)
		var r addReport
		if err := json.Unmarshal([]byte(out.String()), &r); err != nil {
			t.Fatalf("exit %d, %v: %s", code, err, errs.String())
		}
		if (code == exitFailed) != (len(r.Refused) > 0) {
			t.Errorf("exit %d with %d refused", code, len(r.Refused))
		}
		return r
	}
	first := add()
	if n := len(first.Added) + len(first.Already) + len(first.Refused); n != files || len(first.Added) < 100 {
		t.Errorf("%d files: %d added, %d already, %d refused", files, len(first.Added), len(first.Already), len(first.Refused))
	}
	for _, r := range first.Refused {
		if r.Error == "" || strings.Contains(r.Error, "fault.") {
			t.Errorf("%s is refused without a reason: %q", filepath.Base(r.File), r.Error)
		}
	}
	second := add()
	if len(second.Added) != 0 || len(second.Already) != len(first.Added)+len(first.Already) || len(second.Refused) != len(first.Refused) {
		t.Errorf("the second run: %d added, %d already, %d refused", len(second.Added), len(second.Already), len(second.Refused))
	}
	var out strings.Builder
	if code := run(t.Context(), []string{"timeline", "--data", data, "--dog", "bracken", "--json"}, &out, &out); code != exitDone {
		t.Fatalf("timeline: exit %d %s", code, out.String())
	}
	var line struct {
		Unpaired []struct {
			TakenLocal *string `json:"taken_local"`
		} `json:"unpaired"`
	}
	if err := json.Unmarshal([]byte(out.String()), &line); err != nil {
		t.Fatal(err)
	}
	if len(line.Unpaired) != len(first.Added) {
		t.Errorf("%d photos on the timeline, %d were added", len(line.Unpaired), len(first.Added))
	}
	last := ""
	for _, p := range line.Unpaired {
		if p.TakenLocal == nil {
			continue
		}
		if *p.TakenLocal < last {
			t.Errorf("%s comes after %s", *p.TakenLocal, last)
		}
		last = *p.TakenLocal
	}
}
