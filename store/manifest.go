package store

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"time"

	tl "thatch/timeline"
)

// manifestFormat is raised when a program that knows the old form would restore the new one wrongly.
const manifestFormat = 1

// maxManifestBytes bounds what is read of a manifest: two million photos.
const maxManifestBytes = 256 << 20

// Manifest is what one backup holds, every file with its hash. It is written last and holds its own hash: where it is whole,
// the backup is.
type Manifest struct {
	Format   int            `json:"format"`
	Program  string         `json:"program"`
	Schema   int            `json:"schema"` // version of the database
	MadeAt   time.Time      `json:"made_at"`
	Database ManifestFile   `json:"database"`
	Count    int            `json:"count"`
	Photos   []ManifestFile `json:"photos"` // in order of hash
	Lost     []ManifestFile `json:"lost"`   // named by the database, but damaged or gone before they could be copied
}

// ManifestFile is a file of a backup. A photo's name is its hash.
type ManifestFile struct {
	SHA256 string `json:"sha256"`
	Bytes  int64  `json:"bytes"`
}

type sealedManifest struct {
	Backup json.RawMessage `json:"thatch_backup"`
	SHA256 string          `json:"sha256"` // of the bytes of thatch_backup as they stand in the file
}

func (m Manifest) encode() ([]byte, error) {
	m.Photos, m.Lost = listOf(m.Photos), listOf(m.Lost)
	inner, err := json.MarshalIndent(m, "", " ")
	if err != nil {
		return nil, err
	}
	return fmt.Appendf(nil, "{\"thatch_backup\": %s,\n\"sha256\": %q}\n", inner, hexSum(inner)), nil
}

// parseManifest reads a manifest and refuses one that is not whole, says more than it may, or is of a newer program.
func parseManifest(b []byte) (m Manifest, err error) {
	var sealed sealedManifest
	if err := json.Unmarshal(b, &sealed); err != nil {
		return m, incomplete(err)
	}
	// RawMessage keeps the bytes as they stand in the file.
	if len(sealed.Backup) == 0 || hexSum(sealed.Backup) != sealed.SHA256 {
		return m, incomplete(errors.New("the manifest does not have the hash that it says"))
	}
	if err := json.Unmarshal(sealed.Backup, &m); err != nil {
		return m, incomplete(err)
	}
	if m.Format > manifestFormat || m.Schema > len(migrations()) {
		return m, tl.NewFault(tl.TooNew, "fault.backup.too_new")
	}
	if m.Format < 1 || m.Schema < 1 || m.Count != len(m.Photos) || !m.Database.sound() {
		return m, incomplete(errors.New("the manifest contradicts itself"))
	}
	for _, list := range [][]ManifestFile{m.Photos, m.Lost} {
		for i, f := range list {
			if !f.sound() || i > 0 && list[i-1].SHA256 >= f.SHA256 {
				return m, incomplete(fmt.Errorf("the manifest contradicts itself at %q", f.SHA256))
			}
		}
	}
	return m, nil
}

func (f ManifestFile) sound() bool { return f.Bytes > 0 && shaShape.MatchString(f.SHA256) }

func readManifest(r io.Reader) (Manifest, error) {
	b, err := io.ReadAll(io.LimitReader(r, maxManifestBytes+1))
	if err != nil {
		return Manifest{}, err
	}
	if len(b) > maxManifestBytes {
		return Manifest{}, incomplete(errors.New("the manifest is too long"))
	}
	return parseManifest(bytes.TrimSpace(b))
}

// incomplete is a backup that was interrupted or changed since.
func incomplete(because error) *tl.Fault {
	return tl.NewFault(tl.Invalid, "fault.backup.incomplete").Because(because)
}

func hexSum(b []byte) string {
	sum := sha256.Sum256(b)
	return hex.EncodeToString(sum[:])
}
