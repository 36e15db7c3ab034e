package store

import (
	"path/filepath"
	"strings"
)

// sweep throws away what was being written when a process died, unless a backup is being made, whose own files may be among
// it. It is housekeeping: trouble here is no trouble.
func (s *Store) sweep() {
	if release, ok := s.mayDiscard(); ok {
		defer release()
		s.sweepLeftovers()
	}
}

// sweepLeftovers spares what is younger than the grace time: another process may be at it.
func (s *Store) sweepLeftovers() {
	for _, name := range []string{incomingDir, keptDir} {
		dir := filepath.Join(s.dir, name)
		entries, err := s.fs.ReadDir(dir)
		if err != nil {
			continue
		}
		for _, e := range entries {
			info, err := e.Info()
			if err == nil && strings.HasPrefix(e.Name(), tempPrefix) && s.now().Sub(info.ModTime()) > staleTemp {
				_ = s.fs.Remove(filepath.Join(dir, e.Name()))
			}
		}
	}
}
