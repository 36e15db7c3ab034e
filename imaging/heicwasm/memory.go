package heicwasm

import "github.com/tetratelabs/wazero/experimental"

// bounded gives a module memory up to a ceiling of bytes, whatever the module declares. A module that asks for more is
// told that there is none.
func bounded(most uint64) experimental.MemoryAllocator {
	return experimental.MemoryAllocatorFunc(func(_, declared uint64) experimental.LinearMemory {
		most := min(most, declared)
		if m := reserve(most); m != nil {
			return m
		}
		return &heapMemory{most: most}
	})
}

// heapMemory is memory of Go's own, for systems where none can be reserved.
type heapMemory struct {
	b    []byte
	most uint64
}

func (m *heapMemory) Reallocate(size uint64) []byte {
	if size > m.most {
		return nil
	}
	if size > uint64(cap(m.b)) {
		grown := make([]byte, size, min(m.most, size+size/4))
		copy(grown, m.b)
		m.b = grown
	}
	m.b = m.b[:size]
	return m.b
}

func (m *heapMemory) Free() { m.b = nil }
