package store

import (
	"errors"
	"io"
	"io/fs"
	"os"
	"runtime"
)

// FS is the seam under the photo files: what the store asks of a file system. Tests put faults in it.
type FS interface {
	MkdirAll(dir string) error // for the salon's people only
	CreateTemp(dir string) (File, error)
	Open(name string) (File, error)
	Stat(name string) (fs.FileInfo, error)
	Rename(from, to string) error
	Remove(name string) error
	ReadDir(dir string) ([]fs.DirEntry, error)
	SyncDir(dir string) error // makes the names in dir durable
	Space(dir string) (Space, error)
}

// File is an open file of an FS.
type File interface {
	io.Reader
	io.ReaderAt
	io.Writer
	io.Seeker
	io.Closer
	Name() string
	Sync() error
	Stat() (fs.FileInfo, error)
}

// OS is the operating system's file system, the FS of production.
func OS() FS { return osFS{} }

type osFS struct{}

func (osFS) MkdirAll(dir string) error                 { return os.MkdirAll(dir, 0o700) }
func (osFS) Stat(name string) (fs.FileInfo, error)     { return os.Stat(name) }
func (osFS) Rename(from, to string) error              { return os.Rename(from, to) }
func (osFS) Remove(name string) error                  { return os.Remove(name) }
func (osFS) ReadDir(dir string) ([]fs.DirEntry, error) { return os.ReadDir(dir) }

func (osFS) CreateTemp(dir string) (File, error) {
	f, err := os.CreateTemp(dir, tempPrefix+"*")
	if err != nil {
		return nil, err // not f: a nil *os.File in an interface is not nil
	}
	return f, nil
}

func (osFS) Open(name string) (File, error) {
	f, err := os.Open(name)
	if err != nil {
		return nil, err
	}
	return f, nil
}

// SyncDir: Windows has no fsync of a folder; NTFS journals its names itself.
func (osFS) SyncDir(dir string) error {
	if runtime.GOOS == "windows" {
		return nil
	}
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	return errors.Join(d.Sync(), d.Close())
}
