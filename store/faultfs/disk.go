// Package faultfs is disks that fail, for tests: one that refuses an operation, and one that loses what was not made durable
// when the power goes.
//
// What may be lost follows fsync(2) and rename(2) of the Linux manual and POSIX.1-2017 fsync(), read as strictly as they
// allow: the bytes of a file are sure only after its own fsync, a name only after the fsync of its folder, and what was not
// made sure may be kept, lost or half kept, each piece for itself and in any order. ext4 keeps more than that (it commits the
// names of one rename together, and orders many writes); nothing may lean on it.
package faultfs

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"sync"

	"thatch/store"
)

// Op is one operation on a disk.
type Op struct {
	N    int // counts from 1
	Kind string
	Name string // the file's or folder's path
}

func (o Op) String() string { return fmt.Sprintf("%d %s %s", o.N, o.Kind, filepath.Base(o.Name)) }

// Disk is a real folder whose operations are counted, refused at will, and remembered by what is sure of them.
type Disk struct {
	store.FS
	root string

	// Deaf to an operation ("sync", "syncdir"), the Disk answers it and makes nothing durable: as if nobody had asked.
	Deaf string

	mu     sync.Mutex
	ops    []Op
	before func(Op) error
	top    *node // what is known of root
}

// NewDisk takes everything that lies under root for durable, but for what skip names. What others than the Disk change it does
// not see: a database in use is to be skipped.
func NewDisk(root string, skip func(path string) bool) (*Disk, error) {
	d := &Disk{FS: store.OS(), root: root, top: newFolder()}
	err := filepath.WalkDir(root, func(path string, e fs.DirEntry, err error) error {
		if err == nil && !skip(path) {
			d.learn(path)
		}
		return err
	})
	return d, err
}

// Before is asked ahead of each operation; its error is the operation's answer, and nothing is done. A Half is done to one
// half where it can be.
func (d *Disk) Before(f func(Op) error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.ops, d.before = nil, f
}

// Ops are the operations since Before.
func (d *Disk) Ops() []Op {
	d.mu.Lock()
	defer d.mu.Unlock()
	return append([]Op(nil), d.ops...)
}

// Half is a write of which half reached the disk before it failed.
type Half struct{ Err error }

func (h Half) Error() string { return "half written: " + h.Err.Error() }
func (h Half) Unwrap() error { return h.Err }

func (d *Disk) ask(kind, name string) error {
	d.mu.Lock()
	op := Op{len(d.ops) + 1, kind, name}
	d.ops = append(d.ops, op)
	before := d.before
	d.mu.Unlock()
	if before == nil {
		return nil
	}
	if err := before(op); err != nil {
		return &fs.PathError{Op: kind, Path: name, Err: err}
	}
	return nil
}

// do asks, acts, and then notes what was done.
func (d *Disk) do(kind, name string, act func() error, note func()) error {
	if err := d.ask(kind, name); err != nil {
		return err
	}
	if err := act(); err != nil {
		return err
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	if note != nil && kind != d.Deaf {
		note()
	}
	return nil
}

func (d *Disk) MkdirAll(dir string) error {
	return d.do("mkdir", dir, func() error { d.learn(dir); return d.FS.MkdirAll(dir) }, func() { d.noteFolder(dir) })
}

func (d *Disk) Rename(from, to string) error {
	return d.do("rename", to, func() error { d.learn(from); d.learn(to); return d.FS.Rename(from, to) }, func() { d.noteRename(from, to) })
}

func (d *Disk) Remove(name string) error {
	return d.do("remove", name, func() error { d.learn(name); return d.FS.Remove(name) }, func() { d.noteEntry(name, nil) })
}

func (d *Disk) SyncDir(dir string) error {
	return d.do("syncdir", dir, func() error { d.learn(dir); return d.FS.SyncDir(dir) }, func() { d.noteSyncDir(dir) })
}

func (d *Disk) Stat(name string) (info fs.FileInfo, err error) {
	err = d.do("stat", name, func() error { info, err = d.FS.Stat(name); return err }, nil)
	return info, err
}

func (d *Disk) ReadDir(dir string) (list []fs.DirEntry, err error) {
	err = d.do("readdir", dir, func() error { list, err = d.FS.ReadDir(dir); return err }, nil)
	return list, err
}

func (d *Disk) Open(name string) (store.File, error) {
	var f store.File
	err := d.do("open", name, func() (err error) { f, err = d.FS.Open(name); return err }, nil)
	if err != nil {
		return nil, err
	}
	return &file{File: f, d: d, name: name}, nil
}

func (d *Disk) CreateTemp(dir string) (store.File, error) {
	return d.create(dir, func() (store.File, error) { return d.FS.CreateTemp(dir) })
}

// Create makes a file under the name that it is to keep: what no sound store asks for.
func (d *Disk) Create(name string) (store.File, error) {
	return d.create(name, func() (store.File, error) { return os.Create(name) })
}

func (d *Disk) create(name string, make func() (store.File, error)) (store.File, error) {
	var f store.File
	var node *node
	err := d.do("create", name, func() (err error) { d.learn(name); f, err = make(); return err }, func() { node = d.noteFile(f.Name()) })
	if err != nil {
		return nil, err
	}
	return &file{File: f, d: d, name: f.Name(), node: node}, nil
}

// file notes what is written to it.
type file struct {
	store.File
	d    *Disk
	name string
	node *node // nil: opened for reading
}

func (f *file) Write(p []byte) (n int, err error) {
	var half Half
	switch err := f.d.ask("write", f.name); {
	case errors.As(err, &half):
		n, _ = f.write(p[:len(p)/2])
		return n, half.Err
	case err != nil:
		return 0, err
	}
	return f.write(p)
}

func (f *file) write(p []byte) (int, error) {
	at, err := f.File.Seek(0, io.SeekCurrent)
	if err != nil {
		return 0, err
	}
	n, err := f.File.Write(p)
	f.d.mu.Lock()
	defer f.d.mu.Unlock()
	if f.node != nil {
		f.node.written = append(f.node.written, piece{at, append([]byte(nil), p[:n]...)})
	}
	return n, err
}

func (f *file) Sync() error {
	return f.d.do("sync", f.name, f.File.Sync, func() {
		if f.node != nil {
			f.node.sure, f.node.written = f.node.bytes(), nil
		}
	})
}

func (f *file) Read(p []byte) (n int, err error) {
	if err := f.d.ask("read", f.name); err != nil {
		return 0, err
	}
	return f.File.Read(p)
}

func (f *file) ReadAt(p []byte, off int64) (n int, err error) {
	if err := f.d.ask("read", f.name); err != nil {
		return 0, err
	}
	return f.File.ReadAt(p, off)
}

func (f *file) Close() error {
	if err := f.d.ask("close", f.name); err != nil {
		return errors.Join(err, f.File.Close()) // the test must not run out of files
	}
	return f.File.Close()
}
