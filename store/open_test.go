package store

import (
	"bytes"
	"context"
	"database/sql"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"testing"
	"time"

	tl "thatch/timeline"
)

var noon = time.Date(2026, 5, 4, 12, 0, 0, 0, time.UTC)

// newStore is a salon in a temporary folder whose clock ticks a second a look.
func newStore(t testing.TB, opt Options) *Store {
	t.Helper()
	if opt.Now == nil {
		opt.Now = ticking()
	}
	s, err := Open(context.Background(), t.TempDir(), opt)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	})
	return s
}

func ticking() func() time.Time {
	var mu sync.Mutex
	now := noon
	return func() time.Time {
		mu.Lock()
		defer mu.Unlock()
		now = now.Add(time.Second)
		return now
	}
}

func wantKind(t testing.TB, err error, kind tl.Kind, key string) {
	t.Helper()
	if err == nil {
		t.Fatalf("no error, want %s", key)
	}
	if got := tl.KindOf(err); got != kind || !strings.Contains(err.Error(), key) {
		t.Fatalf("kind %d, %v; want kind %d, %s", got, err, kind, key)
	}
}

func must[T any](v T, err error) func(testing.TB) T {
	return func(t testing.TB) T {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
}

func TestEveryQueryPreparesOnTheMigratedSchema(t *testing.T) {
	s := newStore(t, Options{})
	if len(stmts) < 40 {
		t.Fatalf("only %d queries are registered", len(stmts))
	}
	for _, q := range stmts {
		p, err := s.writer.Prepare(q.text)
		if err != nil {
			t.Errorf("%v\n%s", err, q.text)
			continue
		}
		p.Close()
	}
}

func TestTheWordsOfTheSchemaAreThoseOfTheVocabulary(t *testing.T) {
	s := newStore(t, Options{})
	for table, want := range map[string]map[string]bool{"zone": names(tl.Zones()), "point": names(tl.Points()), "tool": names(tl.Tools())} {
		rows, err := s.readers.Query("SELECT name FROM " + table)
		if err != nil {
			t.Fatal(err)
		}
		got := map[string]bool{}
		for rows.Next() {
			var n string
			if err := rows.Scan(&n); err != nil {
				t.Fatal(err)
			}
			got[n] = true
			if !want[n] {
				t.Errorf("%s %q is in the schema only", table, n)
			}
		}
		for n := range want {
			if !got[n] {
				t.Errorf("%s %q is in the vocabulary only: it needs a migration", table, n)
			}
		}
	}
}

func names[T ~string](list []T) map[string]bool {
	m := map[string]bool{}
	for _, v := range list {
		m[string(v)] = true
	}
	return m
}

func TestEveryTableIsStrict(t *testing.T) {
	s := newStore(t, Options{})
	var loose int
	if err := s.readers.QueryRow(`SELECT count(*) FROM pragma_table_list WHERE schema = 'main' AND type = 'table' AND name NOT LIKE 'sqlite_%' AND strict = 0`).Scan(&loose); err != nil {
		t.Fatal(err)
	}
	if loose > 0 {
		t.Errorf("%d tables are not STRICT", loose)
	}
}

func TestEveryConnectionHasThePragmas(t *testing.T) {
	s := newStore(t, Options{})
	ctx := context.Background()
	var conns []*sql.Conn
	for range 4 { // hold all at once, so that each is another connection
		c, err := s.readers.Conn(ctx)
		if err != nil {
			t.Fatal(err)
		}
		defer c.Close()
		conns = append(conns, c)
	}
	w, err := s.writer.Conn(ctx)
	if err != nil {
		t.Fatal(err)
	}
	defer w.Close()
	for i, c := range append(conns, w) {
		want := map[string]string{"journal_mode": "wal", "foreign_keys": "1", "busy_timeout": "5000", "query_only": "1"}
		if c == w {
			want["query_only"], want["synchronous"] = "0", "2"
		}
		for pragma, v := range want {
			var got string
			if err := c.QueryRowContext(ctx, "PRAGMA "+pragma).Scan(&got); err != nil || got != v {
				t.Errorf("connection %d: %s = %q, %v; want %q", i, pragma, got, err, v)
			}
		}
	}
}

func TestADatabaseOfANewerVersionIsRefusedAndStaysAsItIs(t *testing.T) {
	dir := t.TempDir()
	s, err := Open(context.Background(), dir, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := s.writer.Exec("PRAGMA user_version = 9999"); err != nil {
		t.Fatal(err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	before, err := os.ReadFile(filepath.Join(dir, dbName))
	if err != nil {
		t.Fatal(err)
	}
	_, err = Open(context.Background(), dir, Options{})
	wantKind(t, err, tl.TooNew, "fault.store.too_new")
	after, err := os.ReadFile(filepath.Join(dir, dbName))
	if err != nil || string(after) != string(before) {
		t.Errorf("the database was changed: %v", err)
	}
}

func TestADataFolderThatIsNoneIsRefused(t *testing.T) {
	ctx := context.Background()
	t.Run("no salon there, and one must be", func(t *testing.T) {
		dir := filepath.Join(t.TempDir(), "nowhere")
		_, err := Open(ctx, dir, Options{MustExist: true})
		wantKind(t, err, tl.NotFound, "fault.store.no_salon")
		if _, err := os.Stat(dir); err == nil {
			t.Error("the folder was made")
		}
	})
	t.Run("a file stands where the folder should", func(t *testing.T) {
		path := filepath.Join(t.TempDir(), "file")
		if err := os.WriteFile(path, nil, 0o600); err != nil {
			t.Fatal(err)
		}
		_, err := Open(ctx, path, Options{})
		wantKind(t, err, tl.Internal, "fault.store.unwritable")
	})
	t.Run("not a database", func(t *testing.T) {
		dir := t.TempDir()
		if err := os.WriteFile(filepath.Join(dir, dbName), []byte(strings.Repeat("not a database ", 300)), 0o600); err != nil {
			t.Fatal(err)
		}
		_, err := Open(ctx, dir, Options{})
		wantKind(t, err, tl.Internal, "fault.store.damaged")
	})
	t.Run("another program's database", func(t *testing.T) {
		dir := t.TempDir()
		db, err := sql.Open("sqlite", filepath.Join(dir, dbName))
		if err != nil {
			t.Fatal(err)
		}
		if _, err := db.Exec("CREATE TABLE songs (name TEXT)"); err != nil {
			t.Fatal(err)
		}
		db.Close()
		before, err := os.ReadFile(filepath.Join(dir, dbName))
		if err != nil {
			t.Fatal(err)
		}
		_, err = Open(ctx, dir, Options{})
		wantKind(t, err, tl.Internal, "fault.store.foreign")
		if after, err := os.ReadFile(filepath.Join(dir, dbName)); err != nil || !bytes.Equal(before, after) {
			t.Errorf("the other program's file was changed (%v)", err)
		}
		if entries, err := os.ReadDir(dir); err != nil || len(entries) != 1 {
			t.Errorf("the folder now holds %v (%v)", entries, err)
		}
	})
}

func TestNobodyElseMayReadWhatIsKept(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("rights are the folder's there")
	}
	s := newStore(t, Options{}) // in a folder that all may enter
	d := must(s.CreateDog(context.Background(), fullDog()))(t)
	keep(t, s, d.ID, "a photo", "2026-05-04T14:00:00")
	for _, name := range filesIn(t, s.dir) {
		info, err := os.Stat(name)
		if err != nil {
			t.Fatal(err)
		}
		if info.Mode().Perm()&0o077 != 0 {
			t.Errorf("%s: %v", filepath.Base(name), info.Mode())
		}
	}
}

func TestAFolderWithAwkwardLettersIsOpened(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "50% of Ünï? #1 & more")
	s, err := Open(context.Background(), dir, Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	if _, err := os.Stat(filepath.Join(dir, dbName)); err != nil {
		t.Fatal(err)
	}
}

func TestAMigrationThatFailsLeavesTheVersionBefore(t *testing.T) {
	ctx := context.Background()
	db, err := sql.Open("sqlite", dsn(filepath.Join(t.TempDir(), "x.db"), true))
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	db.SetMaxOpenConns(1)
	first := "PRAGMA application_id = 1416126836; CREATE TABLE a (x INTEGER) STRICT"
	if err := migrate(ctx, db, []string{first, "CREATE TABLE b (x INTEGER) STRICT; SELECT nonsense FROM nowhere"}); err == nil {
		t.Fatal("a broken migration passed")
	}
	var version, tables int
	if err := db.QueryRow("PRAGMA user_version").Scan(&version); err != nil {
		t.Fatal(err)
	}
	if err := db.QueryRow("SELECT count(*) FROM sqlite_schema").Scan(&tables); err != nil {
		t.Fatal(err)
	}
	if version != 1 || tables != 1 {
		t.Errorf("version %d with %d tables, want 1 and 1", version, tables)
	}
	if err := migrate(ctx, db, []string{first, "CREATE TABLE b (x INTEGER) STRICT"}); err != nil {
		t.Errorf("the repaired migration: %v", err)
	}
}

func TestTwoProcessesMayOpenTheSameNewFolderAtOnce(t *testing.T) {
	dir := t.TempDir()
	var wg sync.WaitGroup
	for range 4 {
		wg.Go(func() {
			s, err := Open(context.Background(), dir, Options{})
			if err != nil {
				t.Error(err)
				return
			}
			if _, err := s.Settings(context.Background()); err != nil {
				t.Error(err)
			}
			s.Close()
		})
	}
	wg.Wait()
}

func TestAbandonedUploadsAreSweptAndFreshOnesAreNot(t *testing.T) {
	dir := t.TempDir()
	ctx := context.Background()
	s, err := Open(ctx, dir, Options{})
	if err != nil {
		t.Fatal(err)
	}
	s.Close()
	old, fresh := filepath.Join(dir, incomingDir, tempPrefix+"old"), filepath.Join(dir, incomingDir, tempPrefix+"new")
	for _, p := range []string{old, fresh} {
		if err := os.WriteFile(p, []byte("x"), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	long := time.Now().Add(-25 * time.Hour)
	if err := os.Chtimes(old, long, long); err != nil {
		t.Fatal(err)
	}
	s, err = Open(ctx, dir, Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	if _, err := os.Stat(old); err == nil {
		t.Error("the abandoned file is still there")
	}
	if _, err := os.Stat(fresh); err != nil {
		t.Error("the file being received was swept")
	}
}

func TestASalonOfTheFirstVersionKeepsItsRowsAndGetsEmptySheets(t *testing.T) {
	ctx, dir := context.Background(), t.TempDir()
	db, err := sql.Open("sqlite", dsn(filepath.Join(dir, dbName), true))
	if err != nil {
		t.Fatal(err)
	}
	if err := migrate(ctx, db, migrations()[:1]); err != nil {
		t.Fatal(err)
	}
	for _, q := range []string{
		`INSERT INTO dog VALUES ('d', 1, 'Wisp', 'wisp', '', 'rough', 'harsh', 340, '2026-05-01', '', 1, 'some', 24, '[]', '', '2026-05-15', 14, 90, 1, '2026-05-01T09:00:00.000Z', NULL)`,
		`INSERT INTO session VALUES ('s', 1, 'd', '2026-05-01', 60, 'some', 'calm', NULL)`,
		`INSERT INTO session_work VALUES ('s', 'back', 'take', 0.25, 0, 'stone', '', '', '', '', '')`,
		`INSERT INTO reading VALUES ('r', 'd', 's', 'back', '2026-05-01', 31, 1, NULL)`,
		`INSERT INTO original VALUES ('` + strings.Repeat("0", 64) + `', 9, 'jpeg', 40, 30, 1, '', 0, '', '{}', '{}', '2026-05-01T09:00:00.000Z')`,
		`INSERT INTO photo VALUES ('p', 1, 'd', '` + strings.Repeat("0", 64) + `', 'a.jpg', 's', NULL, '', 0, 0, 'none', '[]', 'start', 0, 'left', '', 'left', 40, 30, 1, '', '2026-05-01T09:00:00.000Z', NULL)`,
	} {
		if _, err := db.Exec(q); err != nil {
			t.Fatal(err)
		}
	}
	db.Close()
	s, err := Open(ctx, dir, Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	d := must(s.Dog(ctx, "d"))(t)
	v := must(s.Session(ctx, "s"))(t)
	if d.Name != "Wisp" || d.Cadence.EveryDays != 14 || len(d.Cadence.Days) != 0 || d.Kept != nil || d.Pinched != nil || d.History != (tl.History{}) {
		t.Errorf("the dog: %+v", d)
	}
	if v.Note != "calm" || len(v.Work) != 1 || len(v.Sheet.Order) != 0 || !v.Sheet.Done.IsZero() || v.Tolerance != "" || v.Breaks != 0 || v.NotToday != "" || v.Before != nil {
		t.Errorf("the session: %+v", v)
	}
	if rs := must(s.Readings(ctx, "d"))(t); len(rs) != 1 || rs[0].Of != tl.OfLength || rs[0].Phase != "" || rs[0].LengthMM != 31 {
		t.Errorf("what was read before is a length: %+v", rs)
	}
	if cs := must(s.Combs(ctx, "d"))(t); len(cs) != 0 {
		t.Errorf("combs: %+v", cs)
	}
	if o := must(s.Original(ctx, strings.Repeat("0", 64)))(t); o.Marker != nil || o.FocalPX != 0 {
		t.Errorf("the original: %+v", o)
	}
	if p := must(s.Photo(ctx, "p"))(t); p.Tape != nil || p.File != "a.jpg" {
		t.Errorf("the photo: %+v", p)
	}
	if shas := must(s.LookedAtBefore(ctx, 1))(t); len(shas) != 1 {
		t.Errorf("to be looked at: %v", shas)
	}
}
