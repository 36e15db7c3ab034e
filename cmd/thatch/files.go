package main

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"

	"thatch/timeline"
)

// photoFiles lists files as they were named, and the files directly in folders that were named, in order of name; folders
// in folders and dotfiles are left alone. A name that is not there is NotFound before anything is done.
func photoFiles(names []string) ([]string, error) {
	var out []string
	for _, name := range names {
		info, err := os.Stat(name)
		if errors.Is(err, fs.ErrNotExist) {
			return nil, timeline.NewFault(timeline.NotFound, "fault.cmd.no_file", "file", name).Because(err)
		}
		if err != nil {
			return nil, err
		}
		if !info.IsDir() {
			out = append(out, name)
			continue
		}
		entries, err := os.ReadDir(name)
		if err != nil {
			return nil, err
		}
		for _, e := range entries {
			if e.Name()[0] != '.' && !e.IsDir() {
				out = append(out, filepath.Join(name, e.Name()))
			}
		}
	}
	if len(out) == 0 {
		return nil, timeline.NewFault(timeline.Invalid, "fault.cmd.no_files")
	}
	return out, nil
}

// openFile opens a photo to be read. Only a regular file: a pipe or a device might never come to an end.
func openFile(name string) (*os.File, error) {
	info, err := os.Stat(name)
	if err == nil && !info.Mode().IsRegular() {
		return nil, timeline.NewFault(timeline.Invalid, "fault.cmd.not_a_file", "file", name)
	}
	f, err := os.Open(name)
	if err != nil {
		return nil, timeline.NewFault(timeline.Invalid, "fault.cmd.unreadable", "file", name).Because(err)
	}
	return f, nil
}
