package heicwasm

import (
	"context"
	"errors"
	"slices"
	"testing"

	"github.com/tetratelabs/wazero/api"
)

// moduleOf is the smallest module that can be metered: a memory of one page and a function decode(i32) i32 of the given
// instructions.
func moduleOf(code ...byte) []byte {
	section := func(id byte, body ...byte) []byte { return append([]byte{id, byte(len(body))}, body...) }
	body := append([]byte{0}, code...)
	return slices.Concat(
		[]byte("\x00asm\x01\x00\x00\x00"),
		section(1, 1, 0x60, 1, 0x7f, 1, 0x7f),
		section(3, 1, 0),
		section(5, 1, 0, 1),
		section(6, 1, 0x7f, 1, 0x41, 0, 0x0b),
		section(7, slices.Concat([]byte{2, 6}, []byte("memory"), []byte{2, 0, 6}, []byte("decode"), []byte{0, 0})...),
		section(10, slices.Concat([]byte{1, byte(len(body))}, body)...),
	)
}

// run runs the module's function with fuel and says what was left of it.
func run(t *testing.T, fuel int64, arg uint64, code ...byte) (left int64, err error) {
	t.Helper()
	path := t.TempDir() + "/m.wasm"
	writeFile(t, path, moduleOf(code...))
	t.Setenv(ModuleVariable, path)
	e := newEngine(1)
	if err := e.start(); err != nil {
		t.Fatal(err)
	}
	in, err := e.instantiate(context.Background(), limits{memory: 1 << 20, fuel: fuel})
	if err != nil {
		t.Fatal(err)
	}
	_, err = in.call("decode", arg)
	left = in.left()
	in.close()
	return left, err
}

// Opcodes: WebAssembly core specification 2.0, section 5.4.
var (
	forEver   = []byte{0x03, 0x40, 0x0c, 0, 0x0b, 0x00, 0x0b}                                     // loop br 0 end unreachable
	countdown = []byte{0x03, 0x40, 0x20, 0, 0x41, 1, 0x6b, 0x22, 0, 0x0d, 0, 0x0b, 0x41, 7, 0x0b} // loop: arg -= 1; br_if 0 arg; end; 7
	recursion = []byte{0x20, 0, 0x10, 0, 0x20, 0, 0x10, 0, 0x6a, 0x0b}                            // decode(arg) + decode(arg)
	// memory.fill and memory.copy of arg bytes; a loop of one turn; 7
	filling = []byte{0x41, 0, 0x41, 1, 0x20, 0, 0xfc, 11, 0, 0x41, 0, 0x41, 0, 0x20, 0, 0xfc, 10, 0, 0, 0x03, 0x40, 0x0b, 0x41, 7, 0x0b}
)

func TestWorkIsBoundedByFuel(t *testing.T) {
	for _, c := range []struct {
		name  string
		arg   uint64
		code  []byte
		fuel  int64
		limit bool
		spent int64
	}{
		{"a loop without end", 0, forEver, 1000, true, 1001},
		{"a loop of 100 turns", 100, countdown, 1000, false, 101},
		{"a loop of 100 turns with fuel for 99", 100, countdown, 99, true, 100},
		{"two moves of 64,000 bytes", 64_000, filling, 3000, false, 2002},
		{"two moves of 64,000 bytes with fuel for one", 64_000, filling, 1500, true, 1501},
		{"recursion without end", 0, recursion, 500, true, 501},
	} {
		t.Run(c.name, func(t *testing.T) {
			left, err := run(t, c.fuel, c.arg, c.code...)
			if c.limit != errors.Is(err, ErrLimit) || !c.limit && err != nil {
				t.Error(err)
			}
			if c.fuel-left != c.spent {
				t.Errorf("%d of fuel were spent, want %d", c.fuel-left, c.spent)
			}
		})
	}
}

func TestALoopIsStoppedWhenTheCallerGivesUp(t *testing.T) {
	path := t.TempDir() + "/m.wasm"
	writeFile(t, path, moduleOf(forEver...))
	t.Setenv(ModuleVariable, path)
	e := newEngine(1)
	if err := e.start(); err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	in, err := e.instantiate(ctx, limits{memory: 1 << 20, fuel: 1 << 62})
	if err != nil {
		t.Fatal(err)
	}
	defer in.close()
	done := make(chan error)
	go func() {
		_, err := in.call("decode", 0)
		done <- err
	}()
	cancel()
	if err := <-done; !errors.Is(err, ErrLimit) {
		t.Error(err)
	}
}

func TestMemoryIsBounded(t *testing.T) {
	// memory.grow by arg pages; the old size, or −1.
	grow := []byte{0x20, 0, 0x40, 0, 0x0b}
	path := t.TempDir() + "/m.wasm"
	writeFile(t, path, moduleOf(grow...))
	t.Setenv(ModuleVariable, path)
	e := newEngine(1)
	if err := e.start(); err != nil {
		t.Fatal(err)
	}
	in, err := e.instantiate(context.Background(), limits{memory: 4 << 16, fuel: 100})
	if err != nil {
		t.Fatal(err)
	}
	defer in.close()
	for _, c := range []struct {
		pages uint64
		want  int32
	}{{3, 1}, {1, -1}, {0, 4}} {
		got, err := in.call("decode", c.pages)
		if err != nil || api.DecodeI32(uint64(got)) != c.want {
			t.Errorf("growing by %d pages: %d, %v, want %d", c.pages, int32(got), err, c.want)
		}
	}
	heap := &heapMemory{most: 100}
	if b := heap.Reallocate(40); len(b) != 40 || len(heap.Reallocate(100)) != 100 || heap.Reallocate(101) != nil {
		t.Error("memory of Go's own is not bounded")
	}
}

func TestModulesThatAreNotUnderstoodAreRefused(t *testing.T) {
	whole := moduleOf(filling...)
	if _, err := meter(whole, 1); err != nil {
		t.Fatal(err)
	}
	sections := map[int]bool{}
	for at := 8; at < len(whole); at += 2 + int(whole[at+1]) {
		sections[at] = true
	}
	for n := range whole {
		if _, err := meter(whole[:n], 1); err == nil && !sections[n] {
			t.Errorf("cut to %d bytes: taken", n)
		}
	}
	for name, code := range map[string][]byte{
		"an atomic": {0xfe, 0, 0x0b}, "a tail call": {0x12, 0, 0x0b}, "an unknown opcode": {0x27, 0x0b},
		"a load from another memory": {0x20, 0, 0x28, 0x42, 1, 0, 0x0b},
	} {
		if _, err := meter(moduleOf(code...), 1); err == nil {
			t.Errorf("%s: taken", name)
		}
	}
}

func FuzzMeter(f *testing.F) {
	for _, code := range [][]byte{forEver, countdown, recursion, filling} {
		f.Add(moduleOf(code...))
	}
	f.Fuzz(func(t *testing.T, b []byte) {
		// What is wrong otherwise, the runtime's validation finds. What is written for one loop, of two bytes, has 30.
		if out, _ := meter(b, 1); len(out) > 30*len(b)+100 {
			t.Errorf("%d bytes became %d", len(b), len(out))
		}
	})
}
