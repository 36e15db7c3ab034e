package store

import (
	"errors"
	"io/fs"
	"path"

	tl "thatch/timeline"
)

// Finding is a file that something is to be said of: what is wrong with it, and what to do, in one sentence or two.
type Finding struct {
	File string // below the folder that was looked at, with slashes
	Say  tl.Phrase
}

// originalFile is where an original lies below the data folder.
func originalFile(sha string) string { return path.Join(photosDir, sha[:2], sha) }

// damagedOriginal tells an original that is gone from one that is damaged (err nil: its bytes are others than its name says).
func damagedOriginal(sha string, err error) Finding {
	key := "verify.original.damaged"
	if errors.Is(err, fs.ErrNotExist) {
		key = "verify.original.missing"
	} else if err != nil {
		key = "verify.original.unreadable"
	}
	return Finding{originalFile(sha), tl.Phrase{Key: key}}
}
