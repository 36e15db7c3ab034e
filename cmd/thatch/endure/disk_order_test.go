//go:build linux

package endure_test

import (
	"bytes"
	"crypto/sha256"
	"fmt"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"syscall"
	"testing"
	"time"

	"thatch/cmd/thatch/tested"
	"thatch/imaging"
	"thatch/timeline/outside"
)

// call is one system call of a trace, from the line where it begins to the line where it is over.
type call struct {
	what       string // name and arguments, as strace(1) writes them
	begun, end int
}

var (
	traceLine  = regexp.MustCompile(`^(\d+)\s+(\w+)\((.*)$`)
	resumeLine = regexp.MustCompile(`^(\d+)\s+<\.\.\. (\w+) resumed>(.*)$`)
)

// callsOf reads a trace of strace -f; calls that failed are left out.
func callsOf(trace string) []call {
	var out []call
	open := map[string]int{} // by thread
	for i, line := range strings.Split(trace, "\n") {
		if m := traceLine.FindStringSubmatch(line); m != nil {
			out = append(out, call{m[2] + "(" + m[3], i, i})
			if strings.HasSuffix(line, "<unfinished ...>") {
				open[m[1]] = len(out) - 1
				out[len(out)-1].end = 1 << 40
			}
		} else if m := resumeLine.FindStringSubmatch(line); m != nil {
			if at, ok := open[m[1]]; ok {
				out[at].what += m[3]
				out[at].end = i
				delete(open, m[1])
			}
		}
	}
	good := out[:0]
	for _, c := range out {
		if !strings.Contains(c.what, ") = -1 ") {
			good = append(good, c)
		}
	}
	return good
}

// after is the first call that begins when line is over and fits; not ok: there is none.
func after(calls []call, line int, fits func(string) bool) (c call, ok bool) {
	for _, c := range calls {
		if c.begun > line && fits(c.what) {
			return c, true
		}
	}
	return call{}, false
}

// inOrder says what of an upload's order is missing: fsync of the file after its last byte, rename, fsync of the folder, fsync of
// the database's log, answer.
func inOrder(calls []call, sha string) error {
	place := "/photos/" + sha[:2] + "/" + sha + `"`
	named := regexp.MustCompile(`"([^"]*/incoming/in-[^"]*)"`)
	rename, ok := after(calls, -1, func(s string) bool { return strings.HasPrefix(s, "rename") && strings.Contains(s, place) })
	if !ok {
		return fmt.Errorf("no rename")
	}
	from := named.FindStringSubmatch(rename.what)
	if from == nil {
		return fmt.Errorf("the rename is of no file in incoming: %s", rename.what)
	}
	lastWrite, synced := -1, -1
	for _, c := range calls {
		if c.begun >= rename.begun || !strings.Contains(c.what, "<"+from[1]+">") {
			continue
		}
		switch {
		case strings.HasPrefix(c.what, "write("), strings.HasPrefix(c.what, "pwrite64("):
			lastWrite = max(lastWrite, c.end)
		case isSync(c.what) && c.end < rename.begun && c.begun > lastWrite:
			synced = c.end
		}
	}
	if lastWrite < 0 || synced < lastWrite {
		return fmt.Errorf("the file was not synced between its last byte (line %d) and the rename (line %d)", lastWrite, rename.begun)
	}
	folder, ok := after(calls, rename.end, func(s string) bool { return isSync(s) && strings.Contains(s, "/photos/"+sha[:2]+">") })
	if !ok {
		return fmt.Errorf("the folder was not synced")
	}
	commit, ok := after(calls, folder.end, func(s string) bool { return isSync(s) && strings.Contains(s, "/thatch.db-wal>") })
	if !ok {
		return fmt.Errorf("the commit was not synced")
	}
	// The answer to this upload is the first one after its rename: uploads come one by one.
	answer, ok := after(calls, rename.end, func(s string) bool { return strings.HasPrefix(s, "write(") && strings.Contains(s, `"HTTP/1.1 201 `) })
	if !ok {
		return fmt.Errorf("no answer")
	}
	if answer.begun < commit.end {
		return fmt.Errorf("the answer (line %d) comes before the commit (line %d) is synced", answer.begun, commit.end)
	}
	return nil
}

func isSync(s string) bool {
	return strings.HasPrefix(s, "fsync(") || strings.HasPrefix(s, "fdatasync(")
}

// Kind E: what the kernel was asked to do, by strace(1).
func TestAHundredUploadsAreDurableBeforeTheyAreAnswered(t *testing.T) {
	if out, err := exec.Command("strace", "-o", "/dev/null", "true").CombinedOutput(); err != nil {
		outside.Skip(t, fmt.Sprintf("strace does not run here: %v %s", err, out))
	}
	program, err := tested.Built()
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	trace := filepath.Join(dir, "trace")
	s := newSalonUnderFire(t)
	cmd := exec.Command("strace", "-f", "-y", "-s", "256", "-e", "trace=fsync,fdatasync,rename,renameat,renameat2,write,pwrite64", "-o", trace,
		program, "serve", "--data", s.data, "--listen", "127.0.0.1:0")
	cmd.SysProcAttr = &syscall.SysProcAttr{Setpgid: true}
	base := begun(t, cmd)
	s.begin(t, base, 1)
	const uploads = 100
	shas := make([]string, uploads)
	for i := range shas {
		photo, err := imaging.InsertEXIF(s.base, imaging.EXIFFields{TakenLocal: time.Date(2024, 1, 1, 0, i, 0, 0, time.UTC), Orientation: 1})
		if err != nil {
			t.Fatal(err)
		}
		shas[i] = fmt.Sprintf("%x", sha256.Sum256(photo))
		req, err := http.NewRequest("PUT", base+"/api/v1/dogs/"+s.groomers[0].dog+"/photos/"+shas[i], bytes.NewReader(photo))
		if err != nil {
			t.Fatal(err)
		}
		res, err := s.client.Do(req)
		if err != nil {
			t.Fatal(err)
		}
		res.Body.Close()
		if res.StatusCode != http.StatusCreated {
			t.Fatalf("upload %d: %d", i, res.StatusCode)
		}
	}
	if err := syscall.Kill(-cmd.Process.Pid, syscall.SIGINT); err != nil {
		t.Fatal(err)
	}
	_ = cmd.Wait()
	text, err := os.ReadFile(trace)
	if err != nil {
		t.Fatal(err)
	}
	calls := callsOf(string(text))
	good := 0
	for _, sha := range shas {
		if err := inOrder(calls, sha); err != nil {
			t.Errorf("%.8s: %v", sha, err)
			continue
		}
		good++
	}
	t.Logf("%d of %d in order", good, uploads)
}

// The reader of traces must itself see what is wrong.
func TestATraceOutOfOrderIsSeen(t *testing.T) {
	sha := strings.Repeat("ab", 32)
	steps := []string{
		`1 write(9</d/incoming/in-1>, "\377", 1) = 1`,
		`1 fsync(9</d/incoming/in-1>) = 0`,
		`2 renameat(AT_FDCWD</d>, "/d/incoming/in-1", AT_FDCWD</d>, "/d/photos/ab/` + sha + `") = 0`,
		`1 fsync(9</d/photos/ab>) = 0`,
		`3 fdatasync(7</d/thatch.db-wal>) = 0`,
		`1 write(8<socket:[1]>, "HTTP/1.1 201 Created\r\n", 22) = 22`,
	}
	if err := inOrder(callsOf(strings.Join(steps, "\n")), sha); err != nil {
		t.Errorf("in order: %v", err)
	}
	for i := range steps {
		without := append(append([]string{}, steps[:i]...), steps[i+1:]...)
		if inOrder(callsOf(strings.Join(without, "\n")), sha) == nil {
			t.Errorf("not missed: %s", steps[i])
		}
		if i > 0 {
			swapped := append([]string{}, steps...)
			swapped[i-1], swapped[i] = swapped[i], swapped[i-1]
			if inOrder(callsOf(strings.Join(swapped, "\n")), sha) == nil {
				t.Errorf("out of order and not seen:\n%s", strings.Join(swapped, "\n"))
			}
		}
	}
	late := strings.Join([]string{steps[0], steps[1], steps[2], steps[3], `3 fdatasync(7</d/thatch.db-wal> <unfinished ...>`, steps[5], `3 <... fdatasync resumed>) = 0`}, "\n")
	if inOrder(callsOf(late), sha) == nil {
		t.Error("an answer while the commit is being synced is not seen")
	}
}
