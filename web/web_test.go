package web

import (
	"bufio"
	"crypto/sha256"
	"encoding/hex"
	"io/fs"
	"path"
	"regexp"
	"strings"
	"testing"
)

func TestWhatIsVendoredCarriesItsLicenceAndItsChecksums(t *testing.T) {
	names, err := fs.Glob(Vendor(), "*/*")
	if err != nil || len(names) == 0 {
		t.Fatalf("nothing is vendored: %v", err)
	}
	for _, dir := range names {
		licence, err := fs.ReadFile(Vendor(), path.Join(dir, "LICENSE"))
		if err != nil || len(licence) < 200 {
			t.Errorf("%s has no licence text: %v", dir, err)
		}
		sums, err := fs.ReadFile(Vendor(), path.Join(dir, "SHA256SUMS"))
		if err != nil {
			t.Errorf("%s has no checksums: %v", dir, err)
			continue
		}
		listed := map[string]string{}
		for lines := bufio.NewScanner(strings.NewReader(string(sums))); lines.Scan(); {
			if sum, name, ok := strings.Cut(lines.Text(), "  "); ok {
				listed[name] = sum
			}
		}
		err = fs.WalkDir(Vendor(), dir, func(name string, d fs.DirEntry, err error) error {
			if err != nil || d.IsDir() {
				return err
			}
			rel := strings.TrimPrefix(name, dir+"/")
			if rel == "SHA256SUMS" || rel == "ORIGIN" {
				return nil
			}
			b, err := fs.ReadFile(Vendor(), name)
			if err != nil {
				return err
			}
			sum := sha256.Sum256(b)
			if got := hex.EncodeToString(sum[:]); got != listed[rel] {
				t.Errorf("%s: checksum %s, listed %q", name, got, listed[rel])
			}
			delete(listed, rel)
			return nil
		})
		if err != nil {
			t.Error(err)
		}
		for name := range listed {
			t.Errorf("%s: %s is listed and missing", dir, name)
		}
	}
}

// The policy of the pages forbids inline styles and scripts: a browser would drop them without a word.
func TestNoTemplateCarriesInlineStyleOrScript(t *testing.T) {
	bad := regexp.MustCompile(`(?i)\sstyle\s*=|<style|\son[a-z]+\s*=|<script(?:\s[^>]*)?>\s*[^<\s]|javascript:`)
	err := fs.WalkDir(Templates(), ".", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		b, err := fs.ReadFile(Templates(), name)
		if err != nil {
			return err
		}
		if at := bad.FindString(string(b)); at != "" {
			t.Errorf("%s contains %q", name, at)
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}

func TestEveryFileTheStylesAskForExists(t *testing.T) {
	sheet := assetTable()[StyleSheet]
	for _, m := range regexp.MustCompile(`url\(["']?\.\./([^"')]+)`).FindAllStringSubmatch(string(sheet.Bytes), -1) {
		if _, ok := AssetURL(m[1]); !ok {
			t.Errorf("the style sheet asks for %q", m[1])
		}
	}
}

func TestAssetsAreFoundUnderTheirHashOnly(t *testing.T) {
	if _, ok := FindAsset("0000000000000000", StyleSheet); ok {
		t.Error("an old hash still finds the style sheet")
	}
	if a, ok := FindAsset(assetHash(), StyleSheet); !ok || len(a.Bytes) == 0 || len(a.Gzip) == 0 {
		t.Error("the style sheet is not found under its hash")
	}
	if _, ok := FindAsset(assetHash(), "vendor/zilla-slab/5.3.0/LICENSE"); ok {
		t.Error("files without a served type are served")
	}
}

// TestScriptsStaySmall weighs what a page makes a phone fetch and read: the scripts that its template and the layout name,
// with all that they import, squeezed.
func TestScriptsStaySmall(t *testing.T) {
	named := regexp.MustCompile(`asset "(scripts/[a-z-]+\.js)"`)
	imported := regexp.MustCompile(`(?:from|import)\s*\(?\s*["'](\.{1,2}/[^"']+\.js)["']`)
	var add func(name string, into map[string]int)
	add = func(name string, into map[string]int) {
		if _, had := into[name]; had {
			return
		}
		a, ok := assetTable()[name]
		if !ok {
			t.Fatalf("no script %s", name)
		}
		into[name] = len(a.Bytes)
		if a.Gzip != nil {
			into[name] = len(a.Gzip)
		}
		for _, m := range imported.FindAllSubmatch(a.Bytes, -1) {
			add(path.Join(path.Dir(name), string(m[1])), into)
		}
	}
	read := func(name string) string {
		b, err := fs.ReadFile(Templates(), name)
		if err != nil {
			t.Fatal(err)
		}
		return string(b)
	}
	layout := read("layout.html")
	pages, err := fs.Glob(Templates(), "pages/*.html")
	if err != nil || len(pages) == 0 {
		t.Fatal(pages, err)
	}
	most := 0
	for _, name := range pages {
		into := map[string]int{}
		for _, m := range named.FindAllStringSubmatch(layout+read(name), -1) {
			add(m[1], into)
		}
		sum, limit := 0, 90_000
		for _, n := range into {
			sum += n
		}
		if name == "pages/home.html" || name == "pages/dog.html" {
			limit = 40_000
			t.Logf("%s: %d bytes of script", name, sum)
		}
		if sum > limit {
			t.Errorf("%s: %d bytes of script, at most %d: %v", name, sum, limit, into)
		}
		most = max(most, sum)
	}
	if most == 0 {
		t.Error("no page has a script: this test sees nothing")
	}
	t.Logf("at most %d bytes", most)
}

// A rule that is put in twice leaves an @media behind a selector: a browser drops it without a word.
func TestNoStyleHasAnAtRuleBehindASelector(t *testing.T) {
	stray := regexp.MustCompile(`(?m)^[^\n{}]*[^\s{};*/][ \t]+@(media|supports|font-face|page)\b.*`)
	names, err := fs.Glob(assets, "styles/*.css")
	if err != nil || len(names) == 0 {
		t.Fatal(names, err)
	}
	for _, name := range names {
		b, err := fs.ReadFile(assets, name)
		if err != nil {
			t.Fatal(err)
		}
		for _, line := range stray.FindAllString(string(b), -1) {
			t.Errorf("%s: %s", name, line)
		}
	}
}
