package main

import (
	"fmt"
	"io"
	"os"
	"strings"
	"unicode"
	"unicode/utf8"
)

// stoppedShort in the place of done ends a progress that will not come to its end.
const stoppedShort = -1

// maxProgressRunes keeps the line of a progress from wrapping: a wrapped line cannot be wiped.
const maxProgressRunes = 60

// progress tells how far a long work has come: one line that renews itself on a terminal, elsewhere a line for every
// tenth. It is called by one goroutine at a time.
func progress(s streams) func(done, total int, what string) {
	return progressOn(s.err, isTerminal(s.err))
}

func progressOn(w io.Writer, terminal bool) func(done, total int, what string) {
	tenth := -1
	return func(done, total int, what string) {
		if total <= 0 {
			return
		}
		what = clip(printable(what), maxProgressRunes)
		switch {
		case !terminal && done >= 0:
			if t := 10 * done / total; t != tenth {
				tenth = t
				fmt.Fprintf(w, "%3d %%  %s\n", 100*done/total, what)
			}
		case terminal && (done < 0 || done == total):
			fmt.Fprint(w, "\r\x1b[K")
		case terminal:
			fmt.Fprintf(w, "\r\x1b[K%3d %%  %s", 100*done/total, what)
		}
	}
}

// printable is s without what would command a terminal: the name of a file on a stranger's card may hold anything.
func printable(s string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsPrint(r) {
			return r
		}
		return utf8.RuneError
	}, s)
}

// clip is the end of s, at most n runes: of a path, the name.
func clip(s string, n int) string {
	r := []rune(s)
	if len(r) <= n {
		return s
	}
	return "…" + string(r[len(r)-n+1:])
}

func isTerminal(w io.Writer) bool {
	f, ok := w.(*os.File)
	if !ok {
		return false
	}
	info, err := f.Stat()
	return err == nil && info.Mode()&os.ModeCharDevice != 0
}
