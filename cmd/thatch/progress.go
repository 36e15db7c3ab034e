package main

import (
	"fmt"
	"io"
	"os"
)

// progress tells how far a long work has come: one line that renews itself on a terminal, elsewhere a line for every tenth.
func progress(s streams) func(done, total int, what string) {
	terminal := isTerminal(s.err)
	tenth := -1
	return func(done, total int, what string) {
		if total <= 0 {
			return
		}
		if terminal {
			fmt.Fprintf(s.err, "\r\x1b[K%3d %%  %s", 100*done/total, what)
			if done == total {
				fmt.Fprint(s.err, "\r\x1b[K")
			}
			return
		}
		if t := 10 * done / total; t != tenth {
			tenth = t
			fmt.Fprintf(s.err, "%3d %%  %s\n", 100*done/total, what)
		}
	}
}

func isTerminal(w io.Writer) bool {
	f, ok := w.(*os.File)
	if !ok {
		return false
	}
	info, err := f.Stat()
	return err == nil && info.Mode()&os.ModeCharDevice != 0
}
