package web

import (
	"bytes"
	"encoding/json"
	"path"
	"regexp"
	"sort"
	"strings"
	"sync"
)

// workerParts are the modules that the service worker is made of, in the order of their use. It is one plain script: not
// every browser takes modules there.
var workerParts = []string{"vendor/idb-keyval/" + idbKeyval + "/index.js", "scripts/queue.js", "scripts/sw.js"}

const idbKeyval = "6.3.0"

// Words that only a module may say. Our modules import by name alone, and export where something is declared.
var (
	imports = regexp.MustCompile(`(?m)^import .*$`)
	exports = regexp.MustCompile(`(?m)^export (\{[^}]*\};?|)`)
)

// Worker is the service worker's script, with the hash of all files and the names of those that every page needs.
var Worker = sync.OnceValue(func() []byte {
	var b strings.Builder
	names, _ := json.Marshal(shell()) // strings
	b.WriteString("(() => {\n\"use strict\";\nconst version = \"" + assetHash() + "\";\nconst shell = " + string(names) + ";\n")
	for _, name := range workerParts {
		b.WriteString(plainScript(string(assetTable()[name].Bytes)))
		b.WriteByte('\n')
	}
	b.WriteString("})();\n")
	return []byte(b.String())
})

func plainScript(module string) string {
	return exports.ReplaceAllString(imports.ReplaceAllString(module, ""), "")
}

// shell are the addresses of the files that are kept from the start: all styles and scripts, and the fonts of our languages.
func shell() []string {
	var out []string
	for name := range assetTable() {
		switch path.Ext(name) {
		case ".png":
			continue // for the phone's own screen
		case ".woff2":
			if strings.Contains(name, "latin-ext") {
				continue
			}
		case ".svg":
			if name != "icons/mark.svg" && !bytes.Contains(assetTable()[StyleSheet].Bytes, []byte(name)) {
				continue // drawn into the pages
			}
		}
		if name == "scripts/sw.js" {
			continue
		}
		url, _ := AssetURL(name)
		out = append(out, url)
	}
	sort.Strings(out)
	return out
}
