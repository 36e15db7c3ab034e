package web

import (
	"regexp"
	"strings"
	"testing"
)

func TestTheServiceWorkerIsOnePlainScript(t *testing.T) {
	text := string(Worker())
	if m := regexp.MustCompile(`(?m)^\s*(import|export)\b.*$`).FindString(text); m != "" {
		t.Errorf("a word of modules is left: %q", m)
	}
	for _, part := range []string{`const version = "` + assetHash() + `"`, "function promisifyRequest", "async function keep(", `addEventListener("fetch"`} {
		if !strings.Contains(text, part) {
			t.Errorf("the worker lacks %q", part)
		}
	}
	// Declared once: the parts share one scope.
	seen := map[string]bool{}
	for _, m := range regexp.MustCompile(`(?m)^(?:async )?(?:function|const|let|class) (\w+)`).FindAllStringSubmatch(text, -1) {
		if seen[m[1]] {
			t.Errorf("%s is declared twice", m[1])
		}
		seen[m[1]] = true
	}
}

func TestTheWorkerKeepsFilesThatExistAndAllScripts(t *testing.T) {
	names := strings.Join(shell(), "\n")
	for _, want := range []string{StyleSheet, "scripts/page.js", "scripts/outbox.js", "scripts/queue.js", "icons/mark.svg", "zilla-slab-latin-700-normal.woff2", "vendor/idb-keyval/" + idbKeyval + "/index.js"} {
		if !strings.Contains(names, "/"+want) {
			t.Errorf("%s is not kept", want)
		}
	}
	bytes := 0
	for _, url := range shell() {
		a, ok := FindAsset(assetHash(), strings.TrimPrefix(url, "/assets/"+assetHash()+"/"))
		if !ok {
			t.Errorf("%s does not exist", url)
		}
		if bytes += len(a.Bytes); a.Gzip != nil {
			bytes += len(a.Gzip) - len(a.Bytes)
		}
	}
	if bytes > 300<<10 {
		t.Errorf("%d bytes are fetched before the first page is kept", bytes)
	}
}

func TestTheQueueImportsTheVersionThatIsVendored(t *testing.T) {
	if text := string(assetTable()["scripts/queue.js"].Bytes); !strings.Contains(text, `from "../vendor/idb-keyval/`+idbKeyval+`/index.js"`) {
		t.Error("scripts/queue.js imports another version")
	}
}
