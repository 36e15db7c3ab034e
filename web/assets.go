package web

import (
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"encoding/hex"
	"io/fs"
	"path"
	"sort"
	"strings"
	"sync"
)

// Asset is one file a page may ask for.
type Asset struct {
	Type  string // content type
	Bytes []byte
	Gzip  []byte // nil where it does not pay
}

// StyleSheet is the name of all style sheets in the order of their names, as one file.
const StyleSheet = "styles/thatch.css"

var assetTypes = map[string]string{
	".css":         "text/css; charset=utf-8",
	".js":          "text/javascript; charset=utf-8",
	".svg":         "image/svg+xml",
	".woff2":       "font/woff2",
	".png":         "image/png",
	".webmanifest": "application/manifest+json",
}

// Squeezed when the first page asks: a command that looks at one photo has no use for it, and memory that is not its own.
var loaded = sync.OnceValues(loadAssets)

func assetTable() map[string]Asset { table, _ := loaded(); return table }
func assetHash() string            { _, hash := loaded(); return hash }

// loadAssets hashes everything together: one hash for all means that modules and style sheets can name each other by
// relative paths and still never meet an old copy.
func loadAssets() (map[string]Asset, string) {
	table := map[string]Asset{}
	var sheet bytes.Buffer
	err := fs.WalkDir(assets, ".", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		typ, served := assetTypes[path.Ext(name)]
		if !served {
			return nil // licences and checksums
		}
		b, err := assets.ReadFile(name)
		if err != nil {
			return err
		}
		if strings.HasPrefix(name, "styles/") {
			sheet.Write(b)
			sheet.WriteByte('\n')
			return nil
		}
		table[name] = Asset{Type: typ, Bytes: b}
		return nil
	})
	if err != nil {
		panic(err)
	}
	table[StyleSheet] = Asset{Type: assetTypes[".css"], Bytes: sheet.Bytes()}
	names := make([]string, 0, len(table))
	for name := range table {
		names = append(names, name)
	}
	sort.Strings(names)
	h := sha256.New()
	for _, name := range names {
		a := table[name]
		h.Write([]byte(name))
		h.Write([]byte{0})
		h.Write(a.Bytes)
		if a.Type != assetTypes[".woff2"] && a.Type != assetTypes[".png"] {
			a.Gzip = squeeze(a.Bytes)
			table[name] = a
		}
	}
	return table, hex.EncodeToString(h.Sum(nil))[:16]
}

func squeeze(b []byte) []byte {
	var out bytes.Buffer
	z, _ := gzip.NewWriterLevel(&out, gzip.BestCompression)
	if _, err := z.Write(b); err != nil {
		return nil
	}
	if err := z.Close(); err != nil || out.Len() >= len(b) {
		return nil
	}
	return out.Bytes()
}

// AssetURL is where a file is fetched; ok is false for a file that does not exist.
func AssetURL(name string) (url string, ok bool) {
	_, ok = assetTable()[name]
	return "/assets/" + assetHash() + "/" + name, ok
}

// FindAsset is the file under a hash and a name. Another hash finds nothing: an old page must reload, never mix.
func FindAsset(hash, name string) (Asset, bool) {
	if hash != assetHash() {
		return Asset{}, false
	}
	a, ok := assetTable()[name]
	return a, ok
}

// Icon is the inner markup of an icon drawn on 24 × 24, "" if there is none of that name.
func Icon(name string) string {
	b, err := assets.ReadFile("icons/" + path.Base(name) + ".svg")
	if err != nil {
		return ""
	}
	return string(b)
}

// Icons are the names of all that are drawn beside words, in order.
func Icons() (out []string) {
	names, _ := fs.Glob(assets, "icons/*.svg") // the pattern is a good one
	for _, name := range names {
		if name = strings.TrimSuffix(path.Base(name), ".svg"); name != "mark" && name != "fringe" && name != "lie" { // the program's own, the edge of the band, and how hair lies
			out = append(out, name)
		}
	}
	return out
}
