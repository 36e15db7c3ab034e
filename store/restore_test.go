package store

import (
	"archive/tar"
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	tl "thatch/timeline"
)

func TestABackupGoesOnlyIntoANewOrAnEmptyFolder(t *testing.T) {
	ctx := context.Background()
	s, _ := salonOf(t, 1)
	dest := filepath.Join(t.TempDir(), "backup")
	backUp(t, s, dest, BackupOptions{})
	tmp := t.TempDir()
	full, file, empty := filepath.Join(tmp, "full"), filepath.Join(tmp, "file"), filepath.Join(tmp, "empty")
	if err := errors.Join(os.MkdirAll(filepath.Join(full, "letters"), 0o700), os.WriteFile(file, []byte("x"), 0o600), os.Mkdir(empty, 0o700)); err != nil {
		t.Fatal(err)
	}
	before := filesIn(t, tmp)
	for _, c := range []struct {
		src, dir, key string
		kind          tl.Kind
	}{
		{dest, s.Dir(), "fault.restore.not_empty", tl.Conflict},
		{dest, full, "fault.restore.not_empty", tl.Conflict},
		{dest, file, "fault.restore.not_empty", tl.Conflict},
		{dest, filepath.Join(dest, "new"), "fault.restore.inside", tl.Invalid},
		{dest, dest, "fault.restore.inside", tl.Invalid},
		{dest, filepath.Join(tmp, "no", "where"), "fault.restore.no_parent", tl.Invalid},
		{filepath.Join(tmp, "nowhere"), filepath.Join(tmp, "new"), "fault.restore.no_backup", tl.NotFound},
		{full, filepath.Join(tmp, "new"), "fault.restore.no_backup", tl.NotFound},
		{file, filepath.Join(tmp, "new"), "fault.restore.no_backup", tl.NotFound},
		{s.Dir(), filepath.Join(tmp, "new"), "fault.restore.no_backup", tl.NotFound},
	} {
		_, err := Restore(ctx, c.src, c.dir, RestoreOptions{})
		wantKind(t, err, c.kind, c.key)
	}
	_, err := Restore(ctx, dest, filepath.Join(tmp, "new"), RestoreOptions{Snapshot: "2020-01-01T00-00-00.000Z"})
	wantKind(t, err, tl.NotFound, "fault.restore.no_snapshot")
	_, err = Restore(ctx, dest, filepath.Join(tmp, "new"), RestoreOptions{Snapshot: "../../" + filepath.Base(tmp)})
	wantKind(t, err, tl.NotFound, "fault.restore.no_snapshot")
	if after := filesIn(t, tmp); !slices.Equal(before, after) {
		t.Errorf("something was written: %v", after)
	}
	if _, err := Restore(ctx, dest, empty, RestoreOptions{}); err != nil {
		t.Fatal(err)
	}
	wantWhole(t, empty)
}

func TestAnInterruptedBackupIsRefusedAndAnOlderWholeOneTaken(t *testing.T) {
	ctx := context.Background()
	s, _ := salonOf(t, 2)
	dest := filepath.Join(t.TempDir(), "backup")
	first := backUp(t, s, dest, BackupOptions{}).Snapshot
	addPhotos(t, s, 2)
	second := backUp(t, s, dest, BackupOptions{}).Snapshot
	if err := os.Remove(filepath.Join(dest, snapshotsDir, second, manifestName)); err != nil {
		t.Fatal(err)
	}
	_, err := Restore(ctx, dest, filepath.Join(t.TempDir(), "new"), RestoreOptions{Snapshot: second})
	wantKind(t, err, tl.Invalid, "fault.backup.incomplete")
	rep, err := Restore(ctx, dest, filepath.Join(t.TempDir(), "new"), RestoreOptions{})
	if err != nil || rep.Snapshot != first || rep.Photos != 2 || !slices.Equal(rep.Interrupted, []string{second}) {
		t.Errorf("%+v, %v", rep, err)
	}
	if err := os.Remove(filepath.Join(dest, snapshotsDir, first, manifestName)); err != nil {
		t.Fatal(err)
	}
	_, err = Restore(ctx, dest, filepath.Join(t.TempDir(), "new"), RestoreOptions{})
	wantKind(t, err, tl.Invalid, "fault.backup.incomplete")

	// A file is incomplete wherever it ends.
	file := filepath.Join(t.TempDir(), "b.tar")
	backUp(t, s, file, BackupOptions{})
	whole := must(os.ReadFile(file))(t)
	for n := 0; n < len(whole)-1024; n += 1 + len(whole)/97 { // the last two blocks are empty
		if err := os.WriteFile(file, whole[:n], 0o600); err != nil {
			t.Fatal(err)
		}
		dir := filepath.Join(t.TempDir(), "new")
		_, err := Restore(ctx, file, dir, RestoreOptions{})
		wantKind(t, err, tl.Invalid, "fault.backup.incomplete")
		if _, err := os.Stat(dir); !errors.Is(err, fs.ErrNotExist) {
			t.Fatal("the folder is there")
		}
	}
}

func TestWhatIsDamagedInABackupIsLeftOutOnlyWhenAsked(t *testing.T) {
	ctx := context.Background()
	s, shas := salonOf(t, 4)
	for _, dest := range []string{filepath.Join(t.TempDir(), "backup"), filepath.Join(t.TempDir(), "backup.tar")} {
		backUp(t, s, dest, BackupOptions{})
		if IsBackupFile(dest) {
			text := must(os.ReadFile(dest))(t)
			flip(t, dest, 8*int64(bytes.Index(text, must(os.ReadFile(s.originalPath(shas[0])))(t))))
		} else {
			flip(t, pooled(dest, shas[0]), 40)
		}
		dir := filepath.Join(t.TempDir(), "new")
		rep, err := Restore(ctx, dest, dir, RestoreOptions{})
		wantKind(t, err, tl.Internal, "fault.restore.damaged")
		if !slices.Equal(rep.Damaged, []string{originalFile(shas[0])}) {
			t.Errorf("%+v", rep)
		}
		if left := must(os.ReadDir(filepath.Dir(dir)))(t); len(left) > 0 {
			t.Errorf("left: %v", left)
		}
		rep, err = Restore(ctx, dest, dir, RestoreOptions{WithoutDamaged: true})
		if err != nil || rep.Photos != 3 || len(rep.Damaged) != 1 {
			t.Errorf("%+v, %v", rep, err)
		}
		got := must(Verify(ctx, dir, VerifyOptions{}))(t)
		if !slices.Equal(filesOf(got.Damage), []string{originalFile(shas[0])}) {
			t.Errorf("%v", got.Damage)
		}
	}
}

func TestWhatAKilledRestoreLeftIsTakenAwayByTheNext(t *testing.T) {
	s, _ := salonOf(t, 2)
	dest := filepath.Join(t.TempDir(), "backup")
	backUp(t, s, dest, BackupOptions{})
	dir := filepath.Join(t.TempDir(), "new")
	left := filepath.Join(filepath.Dir(dir), ".new"+buildingEnding)
	if err := errors.Join(os.MkdirAll(filepath.Join(left, photosDir, "ab"), 0o700), os.WriteFile(filepath.Join(left, photosDir, "ab", "x"), []byte("x"), 0o600)); err != nil {
		t.Fatal(err)
	}
	if _, err := Restore(context.Background(), dest, dir, RestoreOptions{}); err != nil {
		t.Fatal(err)
	}
	if rep := wantWhole(t, dir); len(rep.Notes) != 0 {
		t.Errorf("%v", rep.Notes)
	}
	if names := must(os.ReadDir(filepath.Dir(dir)))(t); len(names) != 1 {
		t.Errorf("%v", names)
	}
}

// tarOf is a tar of entries, made by hand.
func tarOf(t testing.TB, entries ...any) []byte {
	t.Helper()
	var b bytes.Buffer
	w := tar.NewWriter(&b)
	for i := 0; i+1 < len(entries); i += 2 {
		body := entries[i+1].(string)
		h, ok := entries[i].(*tar.Header)
		if !ok {
			h = tarHeader(entries[i].(string), int64(len(body)), noon)
		}
		if err := w.WriteHeader(h); err != nil {
			t.Fatal(err)
		}
		if h.Typeflag == tar.TypeReg {
			if _, err := io.WriteString(w, body); err != nil {
				t.Fatal(err)
			}
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// smallTar is a backup in one file, as small as it can be: its database is none.
func smallTar(t testing.TB) []byte {
	photo, db := "a photo", "a database"
	sum := func(s string) ManifestFile { return ManifestFile{hexSum([]byte(s)), int64(len(s))} }
	m := Manifest{Format: 1, Schema: 1, MadeAt: noon, Database: sum(db), Count: 1, Photos: []ManifestFile{sum(photo)}}
	return tarOf(t, dbName, db, originalFile(sum(photo).SHA256), photo, manifestName, string(must(m.encode())(t)))
}

func TestAStrangersFileNamesNoPlaceElsewhere(t *testing.T) {
	ctx := context.Background()
	if _, err := readTar(ctx, bytes.NewReader(smallTar(t)), 1<<20, nil); err != nil {
		t.Fatal(err)
	}
	sha := hexSum([]byte("x"))
	link := func(kind byte, name, to string) *tar.Header {
		return &tar.Header{Typeflag: kind, Name: name, Linkname: to, Mode: 0o777, ModTime: noon}
	}
	for name, b := range map[string][]byte{
		"up":             tarOf(t, "../../etc/passwd", "x"),
		"absolute":       tarOf(t, "/etc/passwd", "x"),
		"up within":      tarOf(t, "photos/../thatch.db", "x"),
		"another shelf":  tarOf(t, "photos/00/"+sha, "x"),
		"windows":        tarOf(t, `photos\ab\x`, "x"),
		"a symlink":      tarOf(t, link(tar.TypeSymlink, dbName, "/etc/passwd"), ""),
		"a hard link":    tarOf(t, link(tar.TypeLink, originalFile(sha), "/etc/passwd"), ""),
		"a folder":       tarOf(t, link(tar.TypeDir, "photos/", ""), ""),
		"a device":       tarOf(t, link(tar.TypeChar, dbName, ""), ""),
		"a named pipe":   tarOf(t, link(tar.TypeFifo, dbName, ""), ""),
		"twice":          tarOf(t, dbName, "x", dbName, "y"),
		"after the list": append(smallTar(t)[:len(smallTar(t))-1024], tarOf(t, originalFile(sha), "x")...),
		"nothing":        {},
		"text":           []byte(strings.Repeat("no tar at all ", 100)),
	} {
		kept := 0
		_, err := readTar(ctx, bytes.NewReader(b), int64(len(b)), func(n string, r io.Reader) (ManifestFile, error) {
			if n != dbName && !isOriginalFile(n) {
				t.Errorf("%s: %q is kept", name, n)
			}
			kept++
			return hashAll(ctx, io.Discard, r)
		})
		if err == nil {
			t.Errorf("%s: taken", name)
			continue
		}
		wantKind(t, err, tl.Invalid, "fault.backup.incomplete")
	}
}

// A kilobyte that says it is a file of 4 GiB with holes is not unrolled.
func TestASparseFileIsNotUnrolled(t *testing.T) {
	h := tarHeader(dbName, 1024, noon)
	b := tarOf(t, h, strings.Repeat("x", 1024))
	// The header of an old GNU sparse file: type S, one piece, and its real size (GNU tar manual, Standard format).
	copy(b[156:], "S")
	copy(b[257:], "ustar  \x00")
	copy(b[386:], "00000000000\x0000000002000\x00") // offset 0, 1024 bytes
	copy(b[483:], fmt.Sprintf("%011o\x00", int64(1)<<32))
	sum := 0
	copy(b[148:156], "        ")
	for _, c := range b[:512] {
		sum += int(c)
	}
	copy(b[148:], fmt.Sprintf("%06o\x00 ", sum))
	read := int64(0)
	_, err := readTar(context.Background(), bytes.NewReader(b), int64(len(b)), func(_ string, r io.Reader) (ManifestFile, error) {
		n, err := io.Copy(io.Discard, r)
		read += n
		return ManifestFile{}, err
	})
	wantKind(t, err, tl.Invalid, "fault.backup.incomplete")
	if read > int64(len(b)) {
		t.Errorf("%d bytes were read of a file of %d", read, len(b))
	}
}

func FuzzManifest(f *testing.F) {
	m := Manifest{Format: 1, Program: "thatch", Schema: 1, MadeAt: noon, Database: ManifestFile{strings.Repeat("d", 64), 9}, Count: 1, Photos: []ManifestFile{{strings.Repeat("a", 64), 1}}}
	f.Add(must(m.encode())(f))
	f.Add([]byte(`{"thatch_backup": {}, "sha256": ""}`))
	f.Fuzz(func(t *testing.T, b []byte) {
		checkManifest(t, b)
		// The seal of the outer document is no hindrance: the inner one is under another's hand too.
		checkManifest(t, fmt.Appendf(nil, `{"thatch_backup":%s,"sha256":"%s"}`, b, hexSum(b)))
	})
}

func checkManifest(t *testing.T, b []byte) {
	m, err := parseManifest(b)
	if err != nil {
		if k := tl.KindOf(err); k != tl.Invalid && k != tl.TooNew {
			t.Errorf("kind %d: %v", k, err)
		}
		return
	}
	for _, f := range append(slices.Clone(m.Photos), m.Lost...) {
		if !filepath.IsLocal(filepath.FromSlash(originalFile(f.SHA256))) {
			t.Errorf("a photo is named %q", f.SHA256)
		}
	}
	text, err := m.encode()
	if err != nil {
		t.Fatal(err)
	}
	if again, err := parseManifest(text); err != nil || asJSON(again) != asJSON(m) {
		t.Errorf("%+v comes back as %+v, %v", m, again, err)
	}
}

// Entries with any name, kind and bytes, a list of any text, and the file cut anywhere; a raw tar would be refused at its
// checksums.
func FuzzBackupFile(f *testing.F) {
	photo := originalFile(hexSum([]byte("a photo")))
	f.Add(photo, byte(tar.TypeReg), []byte("a photo"), "", "", uint16(0))
	f.Add("../../x", byte(tar.TypeSymlink), []byte("y"), "{}", "/etc/passwd", uint16(700))
	f.Fuzz(func(t *testing.T, name string, kind byte, body []byte, list, to string, cut uint16) {
		sum := func(b []byte) ManifestFile { return ManifestFile{hexSum(b), int64(len(b))} }
		db := []byte("a database")
		if list == "" {
			m := Manifest{Format: 1, Schema: 1, MadeAt: noon, Database: sum(db), Count: 1, Photos: []ManifestFile{sum(body)}}
			list = string(must(m.encode())(t))
		}
		var b bytes.Buffer
		w := tar.NewWriter(&b)
		for _, e := range []struct {
			h    *tar.Header
			body []byte
		}{
			{tarHeader(dbName, int64(len(db)), noon), db},
			{&tar.Header{Typeflag: kind, Name: name, Linkname: to, Size: int64(len(body)), Mode: 0o600, ModTime: noon}, body},
			{tarHeader(manifestName, int64(len(list)), noon), []byte(list)},
		} {
			if w.WriteHeader(e.h) == nil { // what is no header is left out
				_, _ = w.Write(e.body)
			}
		}
		_ = w.Close()
		file := b.Bytes()
		file = file[:len(file)-min(int(cut), len(file))]
		read := int64(0)
		says, err := readTar(context.Background(), bytes.NewReader(file), int64(len(file)), func(name string, r io.Reader) (ManifestFile, error) {
			if name != dbName && !isOriginalFile(name) || !filepath.IsLocal(filepath.FromSlash(name)) {
				t.Errorf("%q is kept", name)
			}
			got, err := hashAll(context.Background(), io.Discard, markedReader{r})
			read += got.Bytes
			return got, err
		})
		if read > int64(len(file)) {
			t.Errorf("%d bytes were unpacked of %d", read, len(file))
		}
		if err == nil && says.photos != len(says.manifest.Photos) {
			t.Errorf("%+v", says)
		}
		if err != nil && tl.KindOf(err) != tl.Invalid && tl.KindOf(err) != tl.TooNew {
			t.Errorf("kind %d: %v", tl.KindOf(err), err)
		}
	})
}
