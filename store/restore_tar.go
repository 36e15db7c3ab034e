package store

import (
	"archive/tar"
	"context"
	"errors"
	"fmt"
	"io"
	"path"

	tl "thatch/timeline"
)

// tarSays is what was read of a backup file.
type tarSays struct {
	manifest Manifest
	damaged  []string // names of what does not have the bytes that it should have
	photos   int
	bytes    int64
}

// maxTarEntries bounds what is remembered of a file of strangers.
const maxTarEntries = 5_000_000

// readTar reads a backup file of size bytes to its end and holds everything against the manifest, which comes last. keep is
// given each file as it comes, under a name that is one of ours: thatch.db or photos/ab/<sha256>; nothing else is taken, so no
// entry can name a place elsewhere. What keep does not read is lost. nil: nothing is kept.
//
// A file that ends early, or holds what no backup holds, is incomplete (Invalid).
func readTar(ctx context.Context, r io.Reader, size int64, keep func(name string, r io.Reader) (ManifestFile, error)) (says tarSays, err error) {
	if keep == nil {
		keep = func(_ string, r io.Reader) (ManifestFile, error) { return hashAll(ctx, io.Discard, r) }
	}
	t := tar.NewReader(&ctxReader{ctx, r})
	seen := map[string]ManifestFile{}
	done, total := false, int64(0)
	for {
		h, err := t.Next()
		if err == io.EOF {
			break
		}
		if ctx.Err() != nil {
			return says, ctx.Err()
		}
		if err != nil {
			return says, tarTrouble(err)
		}
		// The sizes of a sparse entry may add up to far more than the file: such a thing is none of ours.
		if total += h.Size; done || h.Typeflag != tar.TypeReg || h.Size < 0 || total > size || len(seen) > maxTarEntries {
			return says, incomplete(fmt.Errorf("%q is not of a backup", h.Name))
		}
		if h.Name == manifestName {
			if says.manifest, err = readManifest(t); err != nil {
				return says, tarTrouble(err)
			}
			done = true
			continue
		}
		if _, twice := seen[h.Name]; twice || h.Name != dbName && !isOriginalFile(h.Name) {
			return says, incomplete(fmt.Errorf("%q is not of a backup", h.Name))
		}
		got, err := keep(h.Name, t)
		var unread readTrouble
		switch {
		case errors.As(err, &unread):
			return says, tarTrouble(err)
		case err != nil:
			return says, err
		}
		seen[h.Name] = got
	}
	if !done {
		return says, incomplete(errors.New("it ends before its manifest"))
	}
	return says, says.compare(seen)
}

// compare holds what came against the manifest.
func (s *tarSays) compare(seen map[string]ManifestFile) error {
	if len(seen) != len(s.manifest.Photos)+1 {
		return incomplete(errors.New("it holds others than its manifest says"))
	}
	if got, ok := seen[dbName]; !ok {
		return incomplete(errors.New("it holds no database"))
	} else if got != s.manifest.Database {
		s.damaged = append(s.damaged, dbName)
	}
	for _, f := range s.manifest.Photos {
		got, ok := seen[originalFile(f.SHA256)]
		if !ok {
			return incomplete(fmt.Errorf("photo %s is missing", f.SHA256))
		}
		if got != f {
			s.damaged = append(s.damaged, originalFile(f.SHA256))
		}
		s.photos, s.bytes = s.photos+1, s.bytes+got.Bytes
	}
	return nil
}

// tarTrouble: a file that stops in the middle, or whose headers make no sense, is incomplete; a disk that does not read is not.
func tarTrouble(err error) error {
	var f *tl.Fault
	if errors.As(err, &f) {
		return err
	}
	if errors.Is(err, io.ErrUnexpectedEOF) || errors.Is(err, tar.ErrHeader) {
		return incomplete(err)
	}
	return err
}

func isOriginalFile(name string) bool {
	sha := path.Base(name)
	return shaShape.MatchString(sha) && name == originalFile(sha)
}

// endsWhole looks at the headers and the manifest of a backup file alone, which is quick: one that was interrupted is refused
// before anything is written.
func endsWhole(r io.ReadSeeker) error {
	t := tar.NewReader(r)
	done := false
	for {
		h, err := t.Next()
		if err == io.EOF {
			break
		}
		if err != nil {
			return tarTrouble(err)
		}
		if done {
			return incomplete(fmt.Errorf("%q comes after the manifest", h.Name))
		}
		if h.Name == manifestName {
			if _, err := readManifest(t); err != nil {
				return tarTrouble(err)
			}
			done = true
		}
	}
	if !done {
		return incomplete(errors.New("it ends before its manifest"))
	}
	return nil
}
