// Package web is what a browser is given: templates, styles, scripts, icons, words and vendored files, all embedded.
//
// It owns how things look and read. It refuses to know the salon: data comes to the templates from server/pages.
package web

import (
	"embed"
	"io/fs"
)

//go:embed templates
var templates embed.FS

//go:embed styles scripts icons vendor
var assets embed.FS

// Templates is the folder of templates: layout.html, parts/ and pages/.
func Templates() fs.FS {
	sub, err := fs.Sub(templates, "templates")
	if err != nil {
		panic(err) // embedded at build time
	}
	return sub
}

// Vendor is the folder of what others wrote, as <name>/<version>/ with LICENSE and SHA256SUMS.
func Vendor() fs.FS {
	sub, err := fs.Sub(assets, "vendor")
	if err != nil {
		panic(err)
	}
	return sub
}
