package store

import (
	"bytes"
	"context"
	"errors"
	"io"
	"testing"

	tl "thatch/timeline"
)

// spacious is a disk of any size.
type spacious struct {
	FS
	free, disk int64
	err        error
}

func (f *spacious) Space(string) (Space, error) { return Space{f.free, f.disk}, f.err }

func TestTheFloorFollowsTheSizeOfTheDisk(t *testing.T) {
	const mib = 1 << 20
	for _, c := range []struct {
		name        string
		said, disk  int64
		wantFloorMB int64
	}{
		{"a large disk", 0, 500_000 * mib, 256},
		{"a memory card of 4 GB", 0, 4_000 * mib, 200},
		{"a small one of 200 MB", 0, 200 * mib, 16},
		{"64 MB", 0, 64 * mib, 16},
		{"40 MB", 0, 40 * mib, 10},
		{"a floor that was said", 700 * mib, 1000 * mib, 700},
		{"none wanted", -1, 1000 * mib, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := &Store{floorBytes: c.said}
			if got := s.floor(Space{DiskBytes: c.disk}) / mib; got != c.wantFloorMB {
				t.Errorf("%d MiB, want %d", got, c.wantFloorMB)
			}
		})
	}
}

// unread fails the test that reads it.
type unread struct{ t *testing.T }

func (u unread) Read([]byte) (int, error) {
	u.t.Error("the photo was read")
	return 0, io.EOF
}

func TestBelowTheFloorPhotosAreRefusedUnreadWhileLoggingGoesOn(t *testing.T) {
	ctx := context.Background()
	disk := &spacious{FS: OS(), free: 1 << 40, disk: 1 << 41}
	s := newStore(t, Options{FS: disk})
	disk.free = 200 << 20
	_, err := s.ReceiveFile(ctx, unread{t}, 1<<20)
	wantKind(t, err, tl.NoSpace, "fault.store.floor")
	if _, err := s.CreateDog(ctx, tl.Dog{Name: "Burdock"}); err != nil {
		t.Errorf("logging: %v", err)
	}
	const sha = "00000000000000000000000000000000000000000000000000000000000000aa"
	if err := s.PutDerived(ctx, sha, "view", 1, []byte("x")); err != nil {
		t.Errorf("what is derived of photos that are in: %v", err)
	}
	disk.free = 100 << 20
	wantKind(t, s.PutDerived(ctx, sha, "thumb", 1, []byte("x")), tl.NoSpace, "fault.store.floor")

	disk.free = 300 << 20 // it recovers by itself
	in, err := s.ReceiveFile(ctx, bytes.NewReader([]byte("a photo")), 1<<20)
	if err != nil {
		t.Fatal(err)
	}
	in.Discard()

	disk.free, disk.err = 0, errors.ErrUnsupported // a system that does not tell
	if in, err = s.ReceiveFile(ctx, bytes.NewReader([]byte("a photo")), 1<<20); err != nil {
		t.Fatal(err)
	}
	in.Discard()
}
