//go:build linux || darwin

package heicwasm

import (
	"syscall"

	"github.com/tetratelabs/wazero/experimental"
)

// mappedMemory is address space that becomes memory only where it is touched. It never moves, so that growing copies
// nothing, and goes back to the system at once when it is freed; memory of Go's own takes three times as much and
// is kept for a while.
type mappedMemory struct{ b []byte }

// reserve returns nil where the system has no such address space left.
func reserve(most uint64) experimental.LinearMemory {
	b, err := syscall.Mmap(-1, 0, int(most), syscall.PROT_READ|syscall.PROT_WRITE, syscall.MAP_ANON|syscall.MAP_PRIVATE|syscall.MAP_NORESERVE)
	if err != nil {
		return nil
	}
	return &mappedMemory{b}
}

func (m *mappedMemory) Reallocate(size uint64) []byte {
	if size > uint64(len(m.b)) {
		return nil
	}
	return m.b[:size:size]
}

func (m *mappedMemory) Free() {
	if m.b != nil {
		_ = syscall.Munmap(m.b)
		m.b = nil
	}
}
