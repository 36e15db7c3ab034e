//go:build linux

package main

import (
	"bytes"
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"image/jpeg"
	"io"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"sync"
	"testing"
	"time"

	"thatch/cmd/thatch/tested"
	"thatch/imaging"
)

// served is a serving program that can be measured.
type served struct {
	url, data string
	pid       int
}

// serveBurdock serves a new data folder with one dog, Burdock, and a photo of it.
func serveBurdock(t testing.TB) served {
	t.Helper()
	name, err := tested.Built()
	if err != nil {
		t.Fatal(err)
	}
	data := t.TempDir()
	first := filepath.Join(t.TempDir(), "first.jpg")
	if err := os.WriteFile(first, tested.WallPhotos(t, 1, 320, 240)[0], 0o600); err != nil {
		t.Fatal(err)
	}
	if out, err := exec.Command(name, "add", "--data", data, "--dog", "Burdock", "--create", first).CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	cmd := exec.Command(name, "serve", "--data", data, "--listen", "127.0.0.1:0")
	cmd.Stderr = os.Stderr
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = cmd.Process.Signal(os.Interrupt); _ = cmd.Wait() })
	line := make([]byte, 4096)
	n, err := out.Read(line)
	if err != nil {
		t.Fatal(err)
	}
	return served{regexp.MustCompile(`http://[0-9.:]+`).FindString(string(line[:n])), data, cmd.Process.Pid}
}

// peakMiB is the most memory that the program has held so far (VmHWM of proc(5)).
func (s served) peakMiB(t testing.TB) float64 {
	t.Helper()
	b, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", s.pid))
	if err != nil {
		t.Fatal(err)
	}
	m := regexp.MustCompile(`VmHWM:\s+(\d+) kB`).FindSubmatch(b)
	if m == nil {
		t.Fatal("no VmHWM")
	}
	kb, _ := strconv.ParseFloat(string(m[1]), 64)
	return kb / 1024
}

// uploadAll sends all photos at once and returns how long the last answer took, and the last view.
func (s served) uploadAll(t testing.TB, photos [][]byte) (acknowledged, derived time.Duration) {
	t.Helper()
	began := time.Now()
	ids := make([]string, len(photos))
	var all sync.WaitGroup
	for i, photo := range photos {
		all.Go(func() {
			sum := sha256.Sum256(photo)
			req, err := http.NewRequest("PUT", fmt.Sprintf("%s/api/v1/dogs/Burdock/photos/%x", s.url, sum), bytes.NewReader(photo))
			if err != nil {
				t.Error(err)
				return
			}
			req.Header.Set("Content-Type", "image/jpeg")
			res, err := http.DefaultClient.Do(req)
			if err != nil {
				t.Error(err)
				return
			}
			defer res.Body.Close()
			var kept struct{ ID string }
			if err := json.NewDecoder(res.Body).Decode(&kept); err != nil || res.StatusCode != http.StatusCreated {
				t.Errorf("photo %d: %d %v", i, res.StatusCode, err)
			}
			ids[i] = kept.ID
		})
	}
	all.Wait()
	acknowledged = time.Since(began)
	for i, id := range ids {
		res, err := http.Get(s.url + "/photos/" + id + "/picture/view")
		if err != nil {
			t.Fatal(err)
		}
		b, err := io.ReadAll(res.Body)
		res.Body.Close()
		if conf, derr := jpeg.DecodeConfig(bytes.NewReader(b)); err != nil || derr != nil || conf.Height != imaging.ViewPX {
			t.Fatalf("view of photo %d: %d, %d × %d, %v %v", i, res.StatusCode, conf.Width, conf.Height, err, derr)
		}
	}
	derived = time.Since(began)
	// None is lost, none stored twice.
	files, err := filepath.Glob(filepath.Join(s.data, "photos", "*", "*"))
	if err != nil || len(files) != len(photos)+1 {
		t.Errorf("%d originals are kept of %d (%v)", len(files)-1, len(photos), err)
	}
	for _, file := range files {
		f, err := os.Open(file)
		if err != nil {
			t.Fatal(err)
		}
		sha, _, err := imaging.Hash(f)
		f.Close()
		if err != nil || !bytes.HasPrefix([]byte(filepath.Base(file)), []byte(sha)) {
			t.Errorf("%s is not what its name says (%v)", filepath.Base(file), err)
		}
	}
	return acknowledged, derived
}

// worked waits until nothing is left to do, the looks for the marker with it, and returns how long that took.
func (s served) worked(t testing.TB) time.Duration {
	t.Helper()
	for began := time.Now(); ; time.Sleep(200 * time.Millisecond) {
		res, err := http.Get(s.url + "/")
		if err != nil {
			t.Fatal(err)
		}
		b, err := io.ReadAll(res.Body)
		res.Body.Close()
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Contains(b, []byte("still being prepared")) {
			return time.Since(began)
		}
		if time.Since(began) > 5*time.Minute {
			t.Fatal("the work does not come to its end")
		}
	}
}

func TestManyPhotosSentAtOnceAreAllKeptInBoundedMemory(t *testing.T) {
	s := serveBurdock(t)
	s.uploadAll(t, tested.WallPhotos(t, 12, 4032, 3024))
	s.worked(t)
	if mib := s.peakMiB(t); mib > 400 {
		t.Errorf("%.0f MiB", mib)
	}
}

// Fifty photos of 24 MP at once: go test -run '^$' -bench FiftyUploads -benchtime 1x ./cmd/thatch
func BenchmarkFiftyUploads(b *testing.B) {
	photos := tested.WallPhotos(b, 50, 5712, 4284)
	b.SetBytes(50 * int64(len(photos[0])))
	for b.Loop() {
		s := serveBurdock(b)
		acknowledged, derived := s.uploadAll(b, photos)
		b.ReportMetric(acknowledged.Seconds(), "s-acknowledged")
		b.ReportMetric(derived.Seconds(), "s-derived")
		b.ReportMetric((derived + s.worked(b)).Seconds(), "s-looked-at")
		b.ReportMetric(s.peakMiB(b), "peak-MiB")
	}
}
