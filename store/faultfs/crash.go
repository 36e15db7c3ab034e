package faultfs

import (
	"maps"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
)

// node is a file or folder, and what of it would survive.
type node struct {
	// of a file
	sure    []byte // its bytes at its last fsync
	written []piece

	// of a folder
	folder  bool
	now     map[string]*node // nil: it is gone
	surely  map[string]*node // the names at its last fsync
	changes []change
}

// piece is one write that no fsync has followed.
type piece struct {
	at int64
	b  []byte
}

// change is one that no fsync of the folder has followed: names that appear (or, nil, go) together.
type change map[string]*node

func newFolder() *node {
	return &node{folder: true, now: map[string]*node{}, surely: map[string]*node{}}
}

// bytes are the file's, all writes done.
func (n *node) bytes() []byte { return n.after(func(p piece) []byte { return p.b }) }

// after is the file with what is kept of each write.
func (n *node) after(kept func(piece) []byte) []byte {
	b := append([]byte(nil), n.sure...)
	for _, p := range n.written {
		part := kept(p)
		if end := int(p.at) + len(part); len(part) > 0 && end > len(b) {
			b = append(b, make([]byte, end-len(b))...) // a hole reads as zeros
		}
		copy(b[min(int(p.at), len(b)):], part)
	}
	return b
}

func (n *node) change(c change) {
	n.changes = append(n.changes, c)
	for name, to := range c {
		n.now[name] = to
	}
}

func (d *Disk) parts(path string) []string {
	rel, err := filepath.Rel(d.root, path)
	if err != nil || rel == "." || strings.HasPrefix(rel, "..") {
		return nil
	}
	return strings.Split(rel, string(filepath.Separator))
}

// learn takes what lies on the way to a path, and was not made by the Disk, for durable.
func (d *Disk) learn(path string) {
	d.mu.Lock()
	defer d.mu.Unlock()
	at, name := d.top, d.root
	for _, part := range d.parts(path) {
		name = filepath.Join(name, part)
		next := at.now[part]
		if next == nil {
			info, err := os.Stat(name)
			if err != nil {
				return
			}
			if next = newFolder(); !info.IsDir() {
				next = &node{}
				next.sure, _ = os.ReadFile(name)
			}
			at.now[part], at.surely[part] = next, next
		}
		if !next.folder {
			return
		}
		at = next
	}
}

// find is the folder of a path and the path's last name.
func (d *Disk) find(path string) (folder *node, name string) {
	parts := d.parts(path)
	folder = d.top
	for _, part := range parts[:len(parts)-1] {
		folder = folder.now[part]
	}
	return folder, parts[len(parts)-1]
}

func (d *Disk) noteFolder(dir string) {
	at := d.top
	for _, part := range d.parts(dir) {
		if at.now[part] == nil {
			at.change(change{part: newFolder()})
		}
		at = at.now[part]
	}
}

func (d *Disk) noteFile(name string) *node {
	n := &node{}
	d.noteEntry(name, n)
	return n
}

func (d *Disk) noteEntry(path string, to *node) {
	folder, name := d.find(path)
	folder.change(change{name: to})
}

// noteRename: within one folder both names change together, else each for itself.
func (d *Disk) noteRename(from, to string) {
	a, old := d.find(from)
	b, name := d.find(to)
	moved := a.now[old]
	if a == b {
		a.change(change{old: nil, name: moved})
		return
	}
	b.change(change{name: moved})
	a.change(change{old: nil})
}

func (d *Disk) noteSyncDir(dir string) {
	at := d.top
	for _, part := range d.parts(dir) {
		at = at.now[part]
	}
	at.changes = nil
	at.surely = map[string]*node{}
	for name, n := range at.now {
		if n != nil {
			at.surely[name] = n
		}
	}
}

// Crash writes into a new folder what is left of the disk when the power goes now: what is sure, and of the rest a choice by
// lot. Files that the Disk knows nothing of are left out.
func (d *Disk) Crash(lot *rand.Rand, into string) error {
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.top.crash(lot, into)
}

func (n *node) crash(lot *rand.Rand, path string) error {
	if !n.folder {
		return os.WriteFile(path, n.after(func(p piece) []byte { return keptOf(lot, p.b) }), 0o600)
	}
	if err := os.MkdirAll(path, 0o700); err != nil {
		return err
	}
	left := map[string]*node{}
	for name, to := range n.surely {
		left[name] = to
	}
	for _, c := range n.changes {
		if lot.IntN(2) == 0 {
			continue
		}
		for name, to := range c {
			left[name] = to
		}
	}
	for _, name := range slices.Sorted(maps.Keys(left)) { // the same lot, the same loss
		to := left[name]
		if to == nil {
			continue
		}
		if err := to.crash(lot, filepath.Join(path, name)); err != nil {
			return err
		}
	}
	return nil
}

// keptOf is all of a write, nothing, or a beginning of it.
func keptOf(lot *rand.Rand, b []byte) []byte {
	switch lot.IntN(3) {
	case 0:
		return nil
	case 1:
		return b[:lot.IntN(len(b)+1)]
	}
	return b
}
