package main

import (
	"bufio"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"testing"

	"thatch/cmd/thatch/tested"
	"thatch/server/salon"
	"thatch/timeline/outside"
)

// freshProcess runs `thatch inspect --json` on one file after the other, each in a process of its own.
type freshProcess struct {
	to   io.Writer
	from *bufio.Reader
}

// lookedAt is one process's answer; see testdata/peak.
type lookedAt struct {
	Code           int
	PeakKB, OwnKB  int64
	MS, CPUMS      float64
	Stdout, Stderr string
}

func newFreshProcess(t testing.TB) *freshProcess {
	t.Helper()
	program, err := tested.Built()
	if err != nil {
		t.Fatal(err)
	}
	measure := filepath.Join(t.TempDir(), "peak.exe")
	if out, err := exec.Command("go", "build", "-o", measure, "./testdata/peak").CombinedOutput(); err != nil {
		t.Fatalf("go build: %v\n%s", err, out)
	}
	cmd := exec.Command(measure, program, "inspect", "--json")
	cmd.Stderr = os.Stderr
	to, err := cmd.StdinPipe()
	if err != nil {
		t.Fatal(err)
	}
	from, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		to.Close()
		if err := cmd.Wait(); err != nil {
			t.Error(err)
		}
	})
	return &freshProcess{to, bufio.NewReader(from)}
}

func (f *freshProcess) look(t testing.TB, file string) (a lookedAt) {
	t.Helper()
	if _, err := fmt.Fprintln(f.to, file); err != nil {
		t.Fatal(err)
	}
	line, err := f.from.ReadBytes('\n')
	if err == nil {
		err = json.Unmarshal(line, &a)
	}
	if err != nil {
		t.Fatalf("%s: %v", file, err)
	}
	return a
}

// maxBeyondKB is how much more than for an empty file the program may ever hold to answer for any file.
const maxBeyondKB = 20 << 10

// baselineKB is the least that an empty file's run holds: runs differ by a megabyte or two.
func (f *freshProcess) baselineKB(t testing.TB) int64 {
	t.Helper()
	empty := filepath.Join(t.TempDir(), "empty.jpg")
	if err := os.WriteFile(empty, nil, 0o644); err != nil {
		t.Fatal(err)
	}
	tiny := datedPhotos(t, 1)[0]
	least := int64(1 << 40)
	for range 5 {
		for _, file := range []string{empty, tiny} {
			a := f.look(t, file)
			f.answered(t, a, file)
			least = min(least, a.PeakKB)
		}
	}
	return least
}

// answered holds an answer to its form: no crash, one entry, and an error where and only where the exit code says so.
func (f *freshProcess) answered(t testing.TB, a lookedAt, file string) (e salon.Entry) {
	t.Helper()
	var entries []salon.Entry
	err := json.Unmarshal([]byte(a.Stdout), &entries)
	switch {
	case a.Code != exitDone && a.Code != exitFailed || strings.Contains(a.Stderr, "goroutine "):
		t.Errorf("%s: exit %d\n%s", file, a.Code, a.Stderr)
	case err != nil || len(entries) != 1:
		t.Errorf("%s: %d entries, %v", file, len(entries), err)
	case (entries[0].Error != nil) != (a.Code == exitFailed):
		t.Errorf("%s: exit %d with error %v", file, a.Code, entries[0].Error)
	default:
		return entries[0]
	}
	return e
}

func (f *freshProcess) heldLittle(t testing.TB, a lookedAt, baselineKB int64, file string) {
	t.Helper()
	if runtime.GOOS != "linux" {
		return
	}
	if a.OwnKB >= baselineKB {
		t.Fatalf("what measures holds %d KiB, more than the %d KiB that it should measure", a.OwnKB, baselineKB)
	}
	if a.PeakKB > baselineKB+maxBeyondKB {
		t.Errorf("%s: %d KiB, an empty file's run holds %d", file, a.PeakKB, baselineKB)
	}
}

// Check 32, kind E: the dates are the ones that were written into the files.
func TestEachHostileFileIsAnsweredByAFreshProcessThatHoldsLittle(t *testing.T) {
	files := hostileFiles(t)
	fresh := newFreshProcess(t)
	baseline := fresh.baselineKB(t)
	dated := strings.Fields("07 08 09 10 24 26 27 30 31 32 33")
	seen, most := 0, int64(0)
	for _, file := range files {
		a := fresh.look(t, file)
		e := fresh.answered(t, a, filepath.Base(file))
		fresh.heldLittle(t, a, baseline, filepath.Base(file))
		most = max(most, a.PeakKB)
		if no, _, _ := strings.Cut(filepath.Base(file), "_"); slices.Contains(dated, no) {
			seen++
			if e.TakenLocal == nil || *e.TakenLocal != "2024-05-06T07:08:09" {
				t.Errorf("%s: taken %v", filepath.Base(file), e.TakenLocal)
			}
		}
	}
	if seen != len(dated) {
		t.Errorf("%d of the %d files with a date are here", seen, len(dated))
	}
	t.Logf("%d files; an empty file's run holds %d KiB, the most was %d KiB more", len(files), baseline, most-baseline)
}

func hostileFiles(t testing.TB) []string {
	t.Helper()
	files, err := filepath.Glob(filepath.Join(outside.Dir(t, "exif"), "hostile", "*"))
	if err != nil || len(files) < 30 {
		t.Fatalf("%d hostile files, %v", len(files), err)
	}
	return files
}

// goodFiles are cut to pieces below: a JPEG, a progressive one with maker notes, a PNG, a WebP and a HEIC of phones.
var goodFiles = []string{
	"bp__testdata_images_bep_sunrise.jpg", "dn__jpg_Issue_587_dotnet.jpg", "bp__testdata_images_bep_sunrise.png",
	"dn__webp_Issue_473_Java.webp", "ia__heic_IMG_5195.HEIC",
}

const cuts = 50

// eachCut gives do a good file at 50 lengths, the longest first, always under the same name.
func eachCut(t testing.TB, good string, do func(file, what string)) {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(outside.Dir(t, "exif"), "files", good))
	if err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(t.TempDir(), "cut"+filepath.Ext(good))
	if err := os.WriteFile(file, b, 0o644); err != nil {
		t.Fatal(err)
	}
	for i := cuts - 1; i >= 0; i-- {
		n := int64(len(b)) * int64(i) / cuts
		if err := os.Truncate(file, n); err != nil {
			t.Fatal(err)
		}
		do(file, fmt.Sprintf("%s cut to %d of %d bytes", good, n, len(b)))
	}
}

func TestAGoodFileCutAnywhereIsAnsweredByAFreshProcessThatHoldsLittle(t *testing.T) {
	outside.Dir(t, "exif")
	fresh := newFreshProcess(t)
	baseline := fresh.baselineKB(t)
	most := int64(0)
	for _, good := range goodFiles {
		eachCut(t, good, func(file, what string) {
			a := fresh.look(t, file)
			fresh.answered(t, a, what)
			fresh.heldLittle(t, a, baseline, what)
			most = max(most, a.PeakKB)
		})
	}
	t.Logf("an empty file's run holds %d KiB, the most was %d KiB more", baseline, most-baseline)
}

// BenchmarkHostileFilesInFreshProcesses says how long the slowest file takes, from the start of its process to its end, and
// how much processor time the dearest. Each file counts with the best of three runs: one run alone measures what else the
// machine was doing.
func BenchmarkHostileFilesInFreshProcesses(b *testing.B) {
	files := hostileFiles(b)
	fresh := newFreshProcess(b)
	var slowest, dearest float64
	var which string
	for b.Loop() {
		one := func(file, what string) {
			best := fresh.look(b, file)
			for range 2 {
				a := fresh.look(b, file)
				best.MS, best.CPUMS = min(best.MS, a.MS), min(best.CPUMS, a.CPUMS)
			}
			dearest = max(dearest, best.CPUMS)
			if best.MS > slowest {
				slowest, which = best.MS, what
			}
		}
		for _, file := range files {
			one(file, filepath.Base(file))
		}
		for _, good := range goodFiles {
			eachCut(b, good, one)
		}
	}
	b.ReportMetric(slowest, "ms-slowest")
	b.ReportMetric(dearest, "cpu-ms-dearest")
	b.Logf("the slowest: %s, %.1f ms", which, slowest)
}
