package main

import (
	"bytes"
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/binary"
	"flag"
	"fmt"
	"hash/crc32"
	"image"
	"image/jpeg"
	"net"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/testscript"
	_ "modernc.org/sqlite"

	"thatch/imaging"
)

var update = flag.Bool("update", false, "write golden files anew")

// commandsOfStories are what a script may call beside the program itself.
func commandsOfStories() map[string]func() {
	return map[string]func(){
		"thatch": func() { os.Exit(run(context.Background(), os.Args[1:], os.Stdout, os.Stderr)) },
		// hugepng FILE: a PNG whose header says 60,000 × 60,000 px.
		"hugepng": func() { end(os.WriteFile(os.Args[1], pngHeader(60000, 60000), 0o644)) },
		// dated FILE TIME: a grey JPEG whose camera says that local time.
		"dated": func() {
			at, err := time.Parse("2006-01-02T15:04:05", os.Args[2])
			var b bytes.Buffer
			if err == nil {
				err = jpeg.Encode(&b, image.NewGray(image.Rect(0, 0, 640, 480)), nil)
			}
			photo := b.Bytes()
			if err == nil {
				photo, err = imaging.InsertEXIF(photo, imaging.EXIFFields{TakenLocal: at, Make: "Invented", Model: "Clock"})
			}
			if err == nil {
				err = os.WriteFile(os.Args[1], photo, 0o644)
			}
			end(err)
		},
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
		// cutsnapshot DIR: the newest backup of a folder was interrupted before its list was written.
		"cutsnapshot": func() {
			lists, err := filepath.Glob(filepath.Join(os.Args[1], "snapshots", "*", "manifest.json"))
			if err == nil && len(lists) == 0 {
				err = fmt.Errorf("no snapshot in %s", os.Args[1])
			}
			if err == nil {
				err = os.Remove(lists[len(lists)-1])
			}
			end(err)
		},
		// flipped DIR FILE: one bit of the salon's own copy of a photo turns over.
		"flipped": func() {
			b, err := os.ReadFile(os.Args[2])
			sum := fmt.Sprintf("%x", sha256.Sum256(b))
			if err == nil {
				b[len(b)/2] ^= 4
				err = os.WriteFile(filepath.Join(os.Args[1], "photos", sum[:2], sum), b, 0o600)
			}
			end(err)
		},
		// scribble FILE: noise in its second half.
		"scribble": func() {
			b, err := os.ReadFile(os.Args[1])
			for i := len(b) / 2; i < len(b); i++ {
				b[i] = byte(i * i >> 3)
			}
			if err == nil {
				err = os.WriteFile(os.Args[1], b, 0o600)
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
