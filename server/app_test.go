package server_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"image/png"
	"net/http"
	"strings"
	"testing"

	"thatch/server"
	"thatch/server/login"
)

// Before anybody signs in a phone may read what makes it a program of its own, and learns nothing of the salon by it.
func TestAPhoneMayTakeTheProgramBeforeAnybodySignsIn(t *testing.T) {
	x := built(t, func(x *house) server.Login { return login.New(x.s, login.Options{Log: x.logger()}) })
	for path, want := range map[string]string{
		"/sw.js": "text/javascript; charset=utf-8", "/manifest.webmanifest": "application/manifest+json", "/offline": "text/html; charset=utf-8",
	} {
		resp, text := x.ask("", "GET", path, "", nil)
		if resp.StatusCode != http.StatusOK || resp.Header.Get("Content-Type") != want || resp.Header.Get("Cache-Control") != "no-store" {
			t.Errorf("%s: %d, %v", path, resp.StatusCode, resp.Header)
		}
		if who := resp.Header.Get("Thatch-Account"); who != "" && who != "none" || strings.Contains(text, "Wisp") {
			t.Errorf("%s tells a stranger of the salon", path)
		}
		if !strings.Contains(resp.Header.Get("Content-Security-Policy"), "worker-src 'self'") {
			t.Errorf("%s: %s", path, resp.Header.Get("Content-Security-Policy"))
		}
	}
	for _, path := range []string{"/outbox", "/ahead"} {
		if resp, _ := x.ask("", "GET", path, "", nil); resp.StatusCode == http.StatusOK {
			t.Errorf("a stranger reads %s", path)
		}
	}
}

func TestTheManifestNamesPicturesThatAreThere(t *testing.T) {
	x := built(t, nil)
	_, text := x.ask("", "GET", "/manifest.webmanifest", "", nil)
	var m struct {
		ID, Scope, Name, Display string
		StartURL                 string `json:"start_url"`
		ThemeColor               string `json:"theme_color"`
		Icons                    []struct{ Src, Sizes, Type, Purpose string }
	}
	if err := json.Unmarshal([]byte(text), &m); err != nil {
		t.Fatal(err)
	}
	if m.StartURL != "/" || m.Scope != "/" || m.Name == "" || m.Display != "standalone" || m.ThemeColor == "" {
		t.Errorf("%+v", m)
	}
	seen := map[string]bool{}
	for _, i := range m.Icons {
		seen[i.Sizes+" "+i.Purpose] = true
		resp, b := x.ask("", "GET", i.Src, "", nil)
		img, err := png.DecodeConfig(bytes.NewReader([]byte(b)))
		if resp.StatusCode != http.StatusOK || err != nil || fmt.Sprintf("%dx%d", img.Width, img.Height) != i.Sizes || resp.Header.Get("Content-Type") != i.Type {
			t.Errorf("%+v: %d, %v, %+v", i, resp.StatusCode, err, img)
		}
	}
	for _, want := range []string{"192x192 any", "512x512 any", "512x512 maskable"} {
		if !seen[want] {
			t.Errorf("no picture of %s", want)
		}
	}
}
