package store

import (
	"bytes"
	"context"
	"database/sql"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"

	tl "thatch/timeline"
)

// shot is the database's files at one moment, and what had been acknowledged by then.
type shot struct {
	db, wal []byte
	said    int // the number of the last log that was acknowledged
	photos  int // how many photos were
	tried   int // the log that was under way, or said
}

// shooter takes shots while files are moved, in the middle of an upload's transaction.
type shooter struct {
	FS
	take func()
}

func (f *shooter) Rename(from, to string) error {
	f.take()
	err := f.FS.Rename(from, to)
	f.take()
	return err
}
func (f *shooter) SyncDir(dir string) error { f.take(); return f.FS.SyncDir(dir) }

// shotsOf logs and uploads by turns and takes a shot after each answer and in between. Every few changes the log
// is written back into the database and begun anew, so that this is in the middle of it too.
func shotsOf(t testing.TB, changes int) (shots []shot) {
	t.Helper()
	ctx := context.Background()
	disk := &shooter{FS: OS(), take: func() {}}
	s := newStore(t, Options{FS: disk})
	if _, err := s.writer.Exec("PRAGMA wal_autocheckpoint = 60"); err != nil {
		t.Fatal(err)
	}
	d := must(s.CreateDog(ctx, tl.Dog{Name: "Burdock"}))(t)
	v := must(s.CreateSession(ctx, tl.Session{Dog: d.ID, On: tl.DayOf(noon)}))(t)
	now := shot{}
	take := func() {
		now.db, now.wal = must(os.ReadFile(filepath.Join(s.dir, dbName)))(t), must(os.ReadFile(filepath.Join(s.dir, dbName+"-wal")))(t)
		shots = append(shots, now)
	}
	disk.take = take
	take()
	for i := 1; i <= changes; i++ {
		if i%3 == 0 {
			keep(t, s, d.ID, fmt.Sprint("photo ", now.photos+1), "2026-05-04T14:00:00")
			now.photos++
		} else {
			now.tried = now.said + 1
			v.Work = []tl.ZoneWork{{Zone: tl.Back, Do: tl.Tidy, Remark: fmt.Sprint("said ", now.tried)}}
			v = must(s.UpdateSession(ctx, v))(t)
			now.said = now.tried
		}
		take()
	}
	disk.take = func() {}
	return shots
}

// holds opens the files and says what is wrong with what they hold: broken, an acknowledged change lost, or one nobody made.
func (s shot) holds(t testing.TB, db, wal []byte, next shot) string {
	t.Helper()
	in := "" // what is looked at a thousand times need not survive a power cut
	if info, err := os.Stat("/dev/shm"); err == nil && info.IsDir() {
		in = "/dev/shm"
	}
	dir, err := os.MkdirTemp(in, "thatch-tail-")
	if err != nil {
		t.Fatal(err)
	}
	defer os.RemoveAll(dir)
	for end, b := range map[string][]byte{"": db, "-wal": wal} {
		if err := os.WriteFile(filepath.Join(dir, dbName+end), b, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	q, err := sql.Open("sqlite", dsn(filepath.Join(dir, dbName), true))
	if err != nil {
		t.Fatal(err)
	}
	defer q.Close()
	if err := integrityCheck(context.Background(), q); err != nil {
		return err.Error()
	}
	var photos int
	var remark string
	if err := q.QueryRow("SELECT (SELECT count(*) FROM photo), coalesce((SELECT remark FROM session_work), 'said 0')").Scan(&photos, &remark); err != nil {
		return err.Error()
	}
	if remark != fmt.Sprint("said ", s.said) && remark != fmt.Sprint("said ", max(next.said, next.tried)) {
		return fmt.Sprintf("the log says %q, acknowledged was %d, next is %d", remark, s.said, next.said)
	}
	if photos != s.photos && photos != next.photos {
		return fmt.Sprintf("%d photos, acknowledged were %d, next are %d", photos, s.photos, next.photos)
	}
	return ""
}

// Every commit has synced the write-ahead log (synchronous=FULL), so what was in it when a change was acknowledged is sure. What
// the next change writes is not, until its own answer: it may be there in part, or with other bytes. While the log is written
// back, a page of the database may be the old or the new one, or half of each; the log is whole then.
func TestAnAcknowledgedChangeOutlivesEveryTailThatIsLost(t *testing.T) {
	changes := 60
	if underRace {
		changes = 12
	}
	shots := shotsOf(t, changes)
	lot := rand.New(rand.NewPCG(6, 9))
	cuts, backs := 0, 0
	for i, s := range shots[:len(shots)-1] {
		next := shots[i+1]
		fail := func(what, why string) {
			if why != "" {
				t.Fatalf("after shot %d, %s: %s", i, what, why)
			}
		}
		fail("as it was", s.holds(t, s.db, s.wal, s))
		if from, to := written(s.wal, next.wal); to > from {
			for range 4 {
				cuts++
				at := from + lot.IntN(to-from+1)
				cut := append(bytes.Clone(next.wal[:at]), s.wal[min(at, len(s.wal)):]...)
				fail(fmt.Sprintf("%d of %d bytes written", at-from, to-from), s.holds(t, s.db, cut, next))
				wal := bytes.Clone(next.wal)
				for range 1 + lot.IntN(5) {
					wal[from+lot.IntN(to-from)] ^= byte(1 + lot.IntN(255))
				}
				fail("garbled", s.holds(t, s.db, wal, next))
				wal = bytes.Clone(next.wal)
				hole := from + lot.IntN(to-from)
				clear(wal[hole:min(to, hole+4096)])
				fail("with a hole", s.holds(t, s.db, wal, next))
			}
		}
		if !bytes.Equal(s.db, next.db) {
			for range 8 {
				backs++
				fail("half written back", s.holds(t, mixed(lot, s.db, next.db), next.wal, next))
			}
		}
	}
	if cuts < changes || backs < changes/3 {
		t.Errorf("only %d tails were cut, %d times the log was half written back", cuts, backs)
	}
	t.Logf("%d shots, %d tails cut, garbled and with a hole, %d times half written back", len(shots), cuts, backs)
}

// written is where the log was written to between two shots: it grows, or is begun anew over what was written back.
func written(old, new []byte) (from, to int) {
	for from < min(len(old), len(new)) && old[from] == new[from] {
		from++
	}
	for to = len(new); to > from && to <= len(old) && old[to-1] == new[to-1]; to-- {
	}
	return from, to
}

// mixed takes each page from one or the other, or half of each.
func mixed(lot *rand.Rand, old, new []byte) []byte {
	const page = 4096
	out := make([]byte, 0, max(len(old), len(new)))
	for at := 0; at < max(len(old), len(new)); at += page {
		a, b := pageOf(old, at), pageOf(new, at)
		if b == nil || a != nil && lot.IntN(2) == 0 {
			a, b = b, a
		}
		p := make([]byte, page)
		copy(p, b)
		if a != nil && lot.IntN(4) == 0 {
			copy(p[:page/2], a[:page/2])
		}
		out = append(out, p...)
	}
	return out
}

func pageOf(b []byte, at int) []byte {
	if at+4096 > len(b) {
		return nil
	}
	return b[at : at+4096]
}

// The test above must itself see a lost commit: without the synced part of the log an acknowledged change is gone.
func TestALostCommitIsSeen(t *testing.T) {
	shots := shotsOf(t, 6)
	seen := 0
	for i, s := range shots[1:] {
		before := shots[i]
		if from, to := written(before.wal, s.wal); to > from && s.said > before.said && bytes.Equal(s.db, before.db) {
			if s.holds(t, s.db, s.wal[:from], s) != "" {
				seen++
			} else {
				t.Errorf("shot %d: a commit is cut off and nobody sees it", i+1)
			}
		}
	}
	if seen == 0 {
		t.Error("nothing was cut off")
	}
}
