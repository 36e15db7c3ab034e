package server

import (
	"encoding/json"
	"net/http"

	"thatch/web"
)

// The colours of the band, as in web/styles/10-tokens.css.
const bandColour = "#0b3a2b"

// worker is the script that keeps pages for when there is no network. It is asked for at the root, so that it may answer for
// every page, and is never kept by a cache: its bytes change with the program's files, which is how a browser learns of them.
func worker(w http.ResponseWriter, _ *http.Request) {
	w.Header().Set("Content-Type", "text/javascript; charset=utf-8")
	_, _ = w.Write(web.Worker()) // the browser went away: nobody to tell
}

type appIcon struct {
	Src     string `json:"src"`
	Sizes   string `json:"sizes"`
	Type    string `json:"type"`
	Purpose string `json:"purpose"`
}

// manifest is how a phone puts the salon beside its other programs (W3C Web Application Manifest).
func manifest(w http.ResponseWriter, _ *http.Request) {
	icon := func(name, sizes, purpose string) appIcon {
		url, _ := web.AssetURL("icons/" + name)
		return appIcon{url, sizes, "image/png", purpose}
	}
	b, err := json.Marshal(map[string]any{
		"id": "/", "start_url": "/", "scope": "/", "name": "Thatch", "short_name": "Thatch", "display": "standalone",
		"background_color": bandColour, "theme_color": bandColour,
		"icons": []appIcon{icon("app-192.png", "192x192", "any"), icon("app-512.png", "512x512", "any"), icon("app-full-512.png", "512x512", "maskable")},
	})
	if err != nil {
		panic(err) // strings only
	}
	w.Header().Set("Content-Type", "application/manifest+json")
	_, _ = w.Write(b) // the browser went away: nobody to tell
}
