package main

import (
	"context"
	"io"
	"testing"
	"time"

	"thatch/server"
	"thatch/server/salon"
	"thatch/store"
	"thatch/timeline"
	"thatch/web/words"
)

// What lay in the trash for 31 days is gone for good once the salon is served, what lay there for 29 is not. That serving
// ends shows that housekeeping does.
func TestASalonThatIsServedEmptiesItsTrash(t *testing.T) {
	dir := t.TempDir()
	for _, days := range []int{31, 29} {
		st, err := store.Open(t.Context(), dir, store.Options{Now: func() time.Time { return time.Now().AddDate(0, 0, -days) }})
		if err != nil {
			t.Fatal(err)
		}
		d, err := st.CreateDog(t.Context(), timeline.Dog{Name: "Burdock"})
		if err == nil {
			err = st.TrashDog(t.Context(), d.ID)
		}
		if err == nil {
			err = st.Close()
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	st, err := store.Open(t.Context(), dir, store.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer st.Close()
	door, err := server.Network{Listen: "127.0.0.1:0"}.Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	ctx, stop := context.WithCancel(t.Context())
	ended := make(chan error, 1)
	go func() {
		s := streams{out: io.Discard, err: io.Discard, say: words.Speaker{Lang: "en"}}
		ended <- serve(ctx, s, st, salon.New(st, salon.Options{}), door, nil)
	}()
	left := func() int {
		dogs, err := st.Dogs(t.Context(), true)
		if err != nil {
			t.Fatal(err)
		}
		return len(dogs)
	}
	for until := time.Now().Add(20 * time.Second); left() == 2 && time.Now().Before(until); {
		time.Sleep(20 * time.Millisecond)
	}
	stop()
	if err := <-ended; err != nil {
		t.Fatal(err)
	}
	if n := left(); n != 1 {
		t.Errorf("%d of two are left, want the one of 29 days ago", n)
	}
}
