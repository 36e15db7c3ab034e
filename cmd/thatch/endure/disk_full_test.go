//go:build linux

package endure_test

import (
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"thatch/cmd/thatch/tested"
	"thatch/imaging"
	"thatch/timeline/outside"
)

const smallDisk = "size=64m"

// onSmallDisk mounts a disk of 64 MiB for a program to serve on: for all to see where that is allowed, else for the program
// alone, whose view of it is then looked through.
func onSmallDisk(t *testing.T, program string) (root string, cmd *exec.Cmd) {
	t.Helper()
	mount := t.TempDir()
	if err := syscall.Mount("none", mount, "tmpfs", 0, smallDisk); err == nil {
		t.Cleanup(func() { _ = syscall.Unmount(mount, syscall.MNT_DETACH) })
		return mount, exec.Command(program, "serve", "--data", filepath.Join(mount, "salon"), "--listen", "127.0.0.1:0")
	}
	script := fmt.Sprintf(`mount -t tmpfs -o %s none "$1" && exec "$2" serve --data "$1/salon" --listen 127.0.0.1:0`, smallDisk)
	if err := exec.Command("unshare", "-rm", "sh", "-c", "mount -t tmpfs -o "+smallDisk+` none "$1"`, "sh", mount).Run(); err != nil {
		outside.Skip(t, "no disk may be mounted here, as root or in a namespace of one's own")
	}
	return mount, exec.Command("unshare", "-rm", "sh", "-c", script, "sh", mount, program)
}

// fullDisk is a program that serves on a small disk.
type fullDisk struct {
	t      *testing.T
	s      *salonUnderFire
	base   string
	photos [][]byte
	next   int
}

// upload sends the next photo and returns the status and how long that took.
func (f *fullDisk) upload() (status int, took time.Duration) {
	f.t.Helper()
	photo := f.photos[f.next%len(f.photos)]
	photo, err := imaging.InsertEXIF(photo, imaging.EXIFFields{TakenLocal: time.Date(2023, 1, 1, 0, f.next, 0, 0, time.UTC), Orientation: 1})
	if err != nil {
		f.t.Fatal(err)
	}
	f.next++
	sha := shaHex(photo)
	began := time.Now()
	req, err := http.NewRequest("PUT", f.base+"/api/v1/dogs/"+f.s.groomers[0].dog+"/photos/"+sha, strings.NewReader(string(photo)))
	if err != nil {
		f.t.Fatal(err)
	}
	res, err := f.s.client.Do(req)
	if err != nil {
		f.t.Fatal(err)
	}
	_, _ = io.Copy(io.Discard, res.Body)
	res.Body.Close()
	if res.StatusCode == http.StatusCreated {
		f.s.groomers[0].photos = append(f.s.groomers[0].photos, sha)
	}
	return res.StatusCode, time.Since(began)
}

func (f *fullDisk) log(remark string) (status int) {
	f.t.Helper()
	g := f.s.groomers[0]
	res, err := f.s.client.PostForm(f.base+"/sessions/"+g.session+"/log", url.Values{"rev": {fmt.Sprint(g.sessionRev)}, "zones": {"back"}, "do": {"tidy"}, "remark": {remark}})
	if err != nil {
		f.t.Fatal(err)
	}
	_, _ = io.Copy(io.Discard, res.Body)
	res.Body.Close()
	g.remark.tried = remark
	if res.StatusCode == http.StatusSeeOther {
		g.remark.acked = remark
		g.sessionRev++
	}
	return res.StatusCode
}

func (f *fullDisk) read() (status int) {
	f.t.Helper()
	g := f.s.groomers[0]
	res, err := f.s.client.Get(f.base + "/dogs/" + g.dog)
	if err != nil {
		f.t.Fatal(err)
	}
	_, _ = io.Copy(io.Discard, res.Body)
	res.Body.Close()
	return res.StatusCode
}

func (f *fullDisk) wantAll(when string) {
	f.t.Helper()
	wrong, err := f.s.check(filesSeen{})
	if err != nil {
		f.t.Fatalf("%s: %v", when, err)
	}
	if len(wrong) > 0 {
		f.t.Errorf("%s: %v", when, wrong)
	}
}

// fillDisk writes a file until so many bytes are left on the disk.
func fillDisk(t *testing.T, name string, left int64) {
	t.Helper()
	w, err := os.OpenFile(name, os.O_WRONLY|os.O_CREATE|os.O_APPEND, 0o600)
	if err != nil {
		t.Fatal(err)
	}
	defer w.Close()
	chunk := make([]byte, 64<<10)
	for {
		var st syscall.Statfs_t
		if err := syscall.Statfs(filepath.Dir(name), &st); err != nil {
			t.Fatal(err)
		}
		free := int64(st.Bavail)*int64(st.Bsize) - left
		if free <= 0 {
			return
		}
		if _, err := w.Write(chunk[:min(free, int64(len(chunk)))]); errors.Is(err, syscall.ENOSPC) {
			return
		} else if err != nil {
			t.Fatal(err)
		}
	}
}

func TestTheFloorCanBeSaid(t *testing.T) {
	program, err := tested.Built()
	if err != nil {
		t.Fatal(err)
	}
	s := newSalonUnderFire(t)
	cmd := exec.Command(program, "serve", "--data", s.data, "--listen", "127.0.0.1:0", "--min-free-mb", "4000000000")
	f := &fullDisk{t: t, s: s, base: begun(t, cmd), photos: [][]byte{s.base}}
	s.begin(t, f.base, 1)
	f.wantAll("at first")
	if status, _ := f.upload(); status != http.StatusInsufficientStorage {
		t.Errorf("below the floor that was said: %d", status)
	}
	if status := f.log("goes on"); status != http.StatusSeeOther {
		t.Errorf("logging: %d", status)
	}
}

func TestAFullDiskLosesNothingAndRecovers(t *testing.T) {
	program, err := tested.Built()
	if err != nil {
		t.Fatal(err)
	}
	root, cmd := onSmallDisk(t, program)
	s := newSalonUnderFire(t)
	f := &fullDisk{t: t, s: s, base: begun(t, cmd), photos: tested.WallPhotos(t, 1, 2016, 1512)}
	defer func() { _ = cmd.Process.Kill(); _ = cmd.Wait() }()
	if _, err := os.Stat(filepath.Join(root, "salon")); err != nil { // mounted for the program alone
		root, s.far = fmt.Sprintf("/proc/%d/root%s", cmd.Process.Pid, root), true
	}
	s.data = filepath.Join(root, "salon")
	s.begin(t, f.base, 1)
	f.wantAll("at first")
	ballast := filepath.Join(root, "ballast")
	fillDisk(t, ballast, 28<<20)

	// Down to the floor: photos until one is refused.
	var slowest time.Duration
	status := 0
	for range 400 {
		var took time.Duration
		if status, took = f.upload(); status != http.StatusCreated {
			slowest = took
			break
		}
	}
	if status != http.StatusInsufficientStorage {
		t.Fatalf("after %d photos the answer was %d", len(s.groomers[0].photos), status)
	}
	atFloor := len(s.groomers[0].photos)
	for i := range 20 {
		if code := f.log(fmt.Sprint("at the floor ", i)); code != http.StatusSeeOther {
			t.Errorf("logging at the floor: %d", code)
		}
	}
	if code := f.read(); code != http.StatusOK {
		t.Errorf("reading at the floor: %d", code)
	}
	f.wantAll("at the floor")

	// Not a byte left: uploads and, once the log has no room, logging are told so, and reading goes on.
	fillDisk(t, ballast, 0)
	full := 0
	for i := range 60 {
		code, took := f.upload()
		slowest = max(slowest, took)
		if code != http.StatusInsufficientStorage {
			t.Errorf("an upload to a full disk: %d", code)
		}
		switch code := f.log(fmt.Sprint("on the full disk ", i)); code {
		case http.StatusInsufficientStorage:
			full++
		case http.StatusSeeOther:
		default:
			t.Errorf("logging on a full disk: %d", code)
		}
		if code := f.read(); code != http.StatusOK {
			t.Errorf("reading from a full disk: %d", code)
		}
	}
	f.wantAll("on the full disk")
	if slowest > 2*time.Second {
		t.Errorf("a refusal took %v", slowest)
	}

	if err := os.Remove(ballast); err != nil {
		t.Fatal(err)
	}
	freed := time.Now()
	for status = 0; status != http.StatusCreated && time.Since(freed) < 10*time.Second; time.Sleep(20 * time.Millisecond) {
		status, _ = f.upload()
	}
	recovered := time.Since(freed)
	if status != http.StatusCreated || recovered > 5*time.Second {
		t.Errorf("%v after space was freed an upload is answered by %d", recovered, status)
	}
	if code := f.log("after"); code != http.StatusSeeOther {
		t.Errorf("logging after space was freed: %d", code)
	}
	f.wantAll("after space was freed")

	// Started on a full disk it says so; when there is room again it goes on where it was.
	if !s.far {
		_ = cmd.Process.Signal(os.Interrupt)
		_ = cmd.Wait()
		fillDisk(t, ballast, 0)
		out, err := exec.Command(program, cmd.Args[1:]...).CombinedOutput()
		if err == nil || !strings.Contains(string(out), "The disk is full") {
			t.Errorf("started on a full disk: %v\n%s", err, out)
		}
		if err := os.Remove(ballast); err != nil {
			t.Fatal(err)
		}
		cmd = exec.Command(program, cmd.Args[1:]...)
		f.base = begun(t, cmd)
		f.wantAll("started again")
		if status, _ := f.upload(); status != http.StatusCreated {
			t.Errorf("started again: %d", status)
		}
	}
	t.Logf("%d photos to the floor, %d of 60 logs refused on the full disk, slowest refusal %d ms, recovered after %d ms", atFloor, full, slowest.Milliseconds(), recovered.Milliseconds())
}
