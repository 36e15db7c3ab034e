//go:build linux

package endure_test

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"thatch/cmd/thatch/tested"
	"thatch/store"
	"thatch/timeline"
)

// many is how often: a few times, or THATCH_MANY.
func many(few int) int {
	if n, err := strconv.Atoi(os.Getenv("THATCH_MANY")); err == nil {
		return n
	}
	return few
}

// keptSalon is a closed salon with one dog and n photos of so many bytes, which are no pictures: nobody here looks at them.
func keptSalon(t testing.TB, dir string, n, bytes int) (*store.Store, timeline.Dog, *photoMaker) {
	t.Helper()
	s, err := store.Open(context.Background(), dir, store.Options{})
	if err != nil {
		t.Fatal(err)
	}
	d, err := s.CreateDog(context.Background(), timeline.Dog{Name: "Burdock"})
	if err != nil {
		t.Fatal(err)
	}
	m := &photoMaker{bytes: bytes}
	for range n {
		if _, err := m.add(s, d.ID); err != nil {
			t.Fatal(err)
		}
	}
	return s, d, m
}

// photoMaker hands in photos, each another one.
type photoMaker struct {
	bytes int
	n     atomic.Int64
}

func (m *photoMaker) add(s *store.Store, dog timeline.ID) (sha string, err error) {
	ctx := context.Background()
	body := make([]byte, m.bytes)
	_, _ = rand.NewChaCha8([32]byte{1, byte(m.n.Add(1)), byte(m.n.Load() >> 8)}).Read(body)
	copy(body, fmt.Sprint(m.n.Load(), time.Now().UnixNano()))
	in, err := s.ReceiveFile(ctx, bytes.NewReader(body), 1<<30)
	if err != nil {
		return "", err
	}
	defer in.Discard()
	o := timeline.Original{Format: "jpeg", WidthPX: 40, HeightPX: 30, Orientation: 1}
	_, _, err = s.KeepPhoto(ctx, in, o, timeline.Photo{Dog: dog, File: "a.jpg", WidthPX: 40, HeightPX: 30, Phase: timeline.PhaseStart, Side: timeline.SideLeft, Facing: timeline.SideLeft}, nil)
	return in.SHA256, err
}

// command runs the real program to its end.
func command(t testing.TB, args ...string) (out []byte, code int) {
	t.Helper()
	name, err := tested.Built()
	if err != nil {
		t.Fatal(err)
	}
	var complaint bytes.Buffer
	cmd := exec.Command(name, args...)
	cmd.Stderr = &complaint
	out, err = cmd.Output()
	if err != nil && cmd.ProcessState == nil {
		t.Fatal(err)
	}
	if code = cmd.ProcessState.ExitCode(); code != 0 {
		out = append(out, complaint.Bytes()...)
	}
	return out, code
}

func mustCommand(t testing.TB, args ...string) []byte {
	t.Helper()
	out, code := command(t, args...)
	if code != 0 {
		t.Fatalf("thatch %s: exit code %d\n%s", strings.Join(args, " "), code, out)
	}
	return out
}

// killed runs the real program and kills it (SIGKILL) after a while; done: it came to its end before.
func killed(t testing.TB, after time.Duration, args ...string) (done bool) {
	t.Helper()
	name, err := tested.Built()
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(name, args...)
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	timer := time.AfterFunc(after, func() { _ = cmd.Process.Signal(syscall.SIGKILL) })
	err = cmd.Wait()
	timer.Stop()
	if err == nil {
		return true
	}
	if s, ok := cmd.ProcessState.Sys().(syscall.WaitStatus); !ok || !s.Signaled() {
		t.Fatalf("thatch %s: %v", strings.Join(args, " "), err)
	}
	return false
}

// filesUnder is every file of a folder with the hash of its bytes.
func filesUnder(t testing.TB, dir string) map[string]string {
	t.Helper()
	list, err := tested.Tree(dir)
	if err != nil {
		t.Fatal(err)
	}
	out := map[string]string{}
	for _, line := range strings.Split(list, "\n") {
		if name, what, ok := strings.Cut(line, " "); ok {
			out[name] = what
		}
	}
	return out
}

// Backups of a salon into which photos are handed in and in which things are changed all the time come back byte for byte: the
// database is the snapshot's, every photo that it names is there with the bytes that were handed in, and everything that was
// acknowledged before the backup began is in it.
func TestBackupsUnderLoadComeBackByteForByte(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "salon")
	s, dog, photos := keptSalon(t, dir, 5, 40_000)
	defer s.Close()
	ctx := context.Background()
	var mu sync.Mutex
	acked := map[string]bool{}
	var notes, trouble atomic.Int64
	stop := make(chan struct{})
	var busy sync.WaitGroup
	work := func(f func() error) {
		busy.Go(func() {
			for {
				select {
				case <-stop:
					return
				case <-time.After(100 * time.Millisecond): // else the salon grows faster than it can be read
				}
				if err := f(); err != nil {
					trouble.Add(1)
					t.Error(err)
					return
				}
			}
		})
	}
	for range 3 {
		work(func() error {
			sha, err := photos.add(s, dog.ID)
			if err == nil {
				mu.Lock()
				acked[sha] = true
				mu.Unlock()
			}
			return err
		})
	}
	work(func() error {
		d, err := s.Dog(ctx, dog.ID)
		if err != nil {
			return err
		}
		n := notes.Load() + 1
		d.Notes = strconv.FormatInt(n, 10)
		if _, err = s.UpdateDog(ctx, d); err == nil {
			notes.Store(n)
		}
		return err
	})
	dest := filepath.Join(t.TempDir(), "backup")
	n := many(3)
	for i := range n {
		mu.Lock()
		before := make([]string, 0, len(acked))
		for sha := range acked {
			before = append(before, sha)
		}
		mu.Unlock()
		noted := notes.Load()
		to := dest
		if i%4 == 3 {
			to = filepath.Join(t.TempDir(), "one.tar")
		}
		var said struct{ Photos int }
		if err := json.Unmarshal(mustCommand(t, "backup", "--data", dir, "--json", to), &said); err != nil {
			t.Fatal(err)
		}
		back := filepath.Join(t.TempDir(), "back")
		mustCommand(t, "restore", "--data", back, to)
		mustCommand(t, "verify", "--data", back)
		files := filesUnder(t, back)
		if to == dest {
			names, err := filepath.Glob(filepath.Join(dest, "snapshots", "*", "thatch.db"))
			if err != nil || len(names) == 0 {
				t.Fatal(err)
			}
			b, err := os.ReadFile(names[len(names)-1])
			if want := fmt.Sprintf("%d %x", len(b), sha256.Sum256(b)); err != nil || files["thatch.db"] != want {
				t.Errorf("the database is %s, the snapshot's %s", files["thatch.db"], want)
			}
		}
		count := 0
		for name, what := range files {
			if rest, ok := strings.CutPrefix(name, "photos/"); ok {
				count++
				live, err := os.ReadFile(filepath.Join(dir, filepath.FromSlash(name)))
				if err != nil || fmt.Sprintf("%d %x", len(live), sha256.Sum256(live)) != what || !strings.HasSuffix(what, filepath.Base(rest)) {
					t.Errorf("%s is another: %v", name, err)
				}
			}
		}
		if count != said.Photos {
			t.Errorf("%d photos came back, %d were backed up", count, said.Photos)
		}
		for _, sha := range before {
			if files["photos/"+sha[:2]+"/"+sha] == "" {
				t.Errorf("photo %s was acknowledged before the backup and is not in it", sha)
			}
		}
		again, err := store.Open(ctx, back, store.Options{MustExist: true})
		if err != nil {
			t.Fatal(err)
		}
		d, err := again.Dog(ctx, dog.ID)
		if err != nil {
			t.Fatal(err)
		}
		if got, err := strconv.ParseInt(d.Notes, 10, 64); noted > 0 && (err != nil || got < noted) {
			t.Errorf("the note says %q, %d was acknowledged before the backup", d.Notes, noted)
		}
		if err := again.Close(); err != nil {
			t.Fatal(err)
		}
		if err := os.RemoveAll(back); err != nil {
			t.Fatal(err)
		}
	}
	close(stop)
	busy.Wait()
	mu.Lock()
	defer mu.Unlock()
	t.Logf("%d backups while %d photos were handed in and %d notes changed: all came back byte for byte", n, len(acked), notes.Load())
	if trouble.Load() == 0 && (len(acked) < n || notes.Load() < int64(n)) {
		t.Error("there was no load")
	}
}

// A backup killed at any moment is never taken for whole, and what was whole before stays so.
func TestAKilledBackupIsNeverTakenForWhole(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "salon")
	s, dog, photos := keptSalon(t, dir, 60, 200_000)
	defer func() { s.Close() }()
	// Into an empty folder, into one that has most of it already, into a file: each takes its time.
	dest := filepath.Join(t.TempDir(), "backup")
	var long [3]time.Duration
	for i, to := range []string{dest, dest, filepath.Join(t.TempDir(), "first.tar")} {
		if _, err := photos.add(s, dog.ID); err != nil {
			t.Fatal(err)
		}
		long[i] = measured(t, func() { mustCommand(t, "backup", "--data", dir, to) })
	}
	lot := rand.New(rand.NewPCG(6, 50))
	n := many(6)
	died := 0
	for i := range n {
		to, tarred := dest, i%3 == 2
		if tarred {
			to = filepath.Join(t.TempDir(), "one.tar")
		}
		if i%3 == 0 { // into an empty place, and with more to copy
			to = filepath.Join(t.TempDir(), "fresh")
		} else if _, err := photos.add(s, dog.ID); err != nil {
			t.Fatal(err)
		}
		done := killed(t, time.Duration(lot.Int64N(int64(long[i%3]))), "backup", "--data", dir, to)
		if !done {
			died++
		}
		if _, err := os.Stat(to); err == nil && (tarred || done || to == dest) {
			// A file has its name only when it is whole, and an older backup in the folder still is.
			mustCommand(t, "verify", "--data", to)
		}
		back := filepath.Join(t.TempDir(), "back")
		out, code := command(t, "restore", "--data", back, "--json", to)
		switch {
		case code == 0:
			mustCommand(t, "verify", "--data", back)
			var said struct{ Photos int }
			if err := json.Unmarshal(out, &said); err != nil || said.Photos < 60 {
				t.Errorf("%d photos of 60 and more: %v", said.Photos, err)
			}
		case done || to == dest:
			t.Errorf("it is not brought back: exit code %d\n%s", code, out)
		default:
			if code != 2 {
				t.Errorf("exit code %d\n%s", code, out)
			}
			if _, err := os.Stat(back); err == nil {
				t.Error("the new folder is there")
			}
		}
		if to == dest && !tarred {
			mustCommand(t, "backup", "--data", dir, dest) // the next one goes on
			mustCommand(t, "verify", "--data", dest)
		}
	}
	t.Logf("%d backups, %d of them killed", n, died)
	if died*2 < n {
		t.Errorf("only %d of %d were killed", died, n)
	}
	if left := filesUnder(t, filepath.Join(dir, "incoming")); len(left) > 2*n {
		t.Errorf("%d files are left in the salon", len(left))
	}
}

// A restore killed at any moment leaves no folder, or a whole one, and touches no other.
func TestAKilledRestoreTouchesNothing(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "salon")
	s, _, _ := keptSalon(t, dir, 60, 200_000)
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	place := t.TempDir()
	folder, file := filepath.Join(place, "backup"), filepath.Join(place, "backup.tar")
	mustCommand(t, "backup", "--data", dir, folder)
	mustCommand(t, "backup", "--data", dir, file)
	live, backups := filesUnder(t, dir), filesUnder(t, place)
	long := measured(t, func() { mustCommand(t, "restore", "--data", filepath.Join(t.TempDir(), "first"), folder) })
	lot := rand.New(rand.NewPCG(6, 51))
	n := many(6)
	died := 0
	parent := t.TempDir()
	for i := range n {
		src := []string{folder, file}[i%2]
		back := filepath.Join(parent, "back")
		done := killed(t, time.Duration(lot.Int64N(int64(long))), "restore", "--data", back, src)
		if !done {
			died++
		}
		if _, err := os.Stat(back); err == nil {
			mustCommand(t, "verify", "--data", back)
			if err := os.RemoveAll(back); err != nil {
				t.Fatal(err)
			}
		} else if done {
			t.Error("done, and not there")
		}
		if i%5 == 4 { // the next one takes away what was left, and succeeds
			mustCommand(t, "restore", "--data", back, src)
			mustCommand(t, "verify", "--data", back)
			if err := os.RemoveAll(back); err != nil {
				t.Fatal(err)
			}
			if left, err := os.ReadDir(parent); err != nil || len(left) > 0 {
				t.Errorf("left over: %v, %v", left, err)
			}
		}
	}
	same := func(what string, before, after map[string]string) {
		for name, was := range before {
			if after[name] != was {
				t.Errorf("%s: %s changed", what, name)
			}
		}
		if len(before) != len(after) {
			t.Errorf("%s: %d files, before %d", what, len(after), len(before))
		}
	}
	same("the salon", live, filesUnder(t, dir))
	same("the backups", backups, filesUnder(t, place))
	t.Logf("%d restores, %d of them killed", n, died)
	if died*2 < n {
		t.Errorf("only %d of %d were killed", died, n)
	}
}

// measured is how long f takes, the program being built already.
func measured(t testing.TB, f func()) time.Duration {
	t.Helper()
	if _, err := tested.Built(); err != nil {
		t.Fatal(err)
	}
	began := time.Now()
	f()
	return time.Since(began)
}

// The whole program, 2,000 photos of 200 kB: seconds of a first backup, of one with nothing new, of a restore, of verify.
func BenchmarkKeeping(b *testing.B) {
	dir := filepath.Join(b.TempDir(), "salon")
	s, _, _ := keptSalon(b, dir, 2000, 200_000)
	if err := s.Close(); err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		place := b.TempDir()
		dest, back := filepath.Join(place, "backup"), filepath.Join(place, "back")
		for _, c := range []struct {
			what string
			args []string
		}{
			{"first-s", []string{"backup", "--data", dir, dest}},
			{"again-s", []string{"backup", "--data", dir, dest}},
			{"restore-s", []string{"restore", "--data", back, dest}},
			{"verify-s", []string{"verify", "--data", dir}},
		} {
			b.ReportMetric(measured(b, func() { mustCommand(b, c.args...) }).Seconds(), c.what)
		}
	}
}
