package browsed

import (
	"context"
	"encoding/json"
	"flag"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"

	"thatch/cmd/thatch/tested"
)

// What a page costs its reader, as the browser itself counts it (https://www.w3.org/TR/largest-contentful-paint/,
// https://wicg.github.io/layout-instability/, https://www.w3.org/TR/longtasks-1/): when the largest thing stood there, how
// much moved about, and how long a tap would have waited in all (what long tasks take beyond 50 ms).
const costOfPage = `window.cost = {lcp: 0, cls: 0, tbt: 0, what: ""};
new PerformanceObserver(list => { for (const e of list.getEntries()) { cost.lcp = e.startTime; cost.what = e.element ? e.element.tagName + "." + e.element.className : ""; } }).observe({type: "largest-contentful-paint", buffered: true});
new PerformanceObserver(list => { for (const e of list.getEntries()) if (!e.hadRecentInput) cost.cls += e.value; }).observe({type: "layout-shift", buffered: true});
new PerformanceObserver(list => { for (const e of list.getEntries()) cost.tbt += Math.max(0, e.duration - 50); }).observe({type: "longtask", buffered: true});`

type costOf struct {
	LCP  float64 `json:"lcp"` // ms
	CLS  float64 `json:"cls"`
	TBT  float64 `json:"tbt"` // ms
	What string  `json:"what"`
	Sent float64 `json:"sent"` // kB, of page, styles, scripts and pictures together
}

// throttled is the network of a shop's cellar: a round trip of 150 ms, 1.6 and 0.75 Mbit/s.
type throttled struct {
	Offline            bool    `json:"offline"`
	Latency            float64 `json:"latency"`            // ms
	DownloadThroughput float64 `json:"downloadThroughput"` // bytes/s
	UploadThroughput   float64 `json:"uploadThroughput"`
}

var throttle = cdp.Command[throttled, cdp.Empty]{Method: "Network.emulateNetworkConditions"}

var salonAt = flag.String("salon", "", "address of a salon that is open already, for the benchmark of pages")

// BenchmarkPagesOnASlowPhone: a phone's width, a processor four times as slow, an empty cache, a dog with 500 photos; the
// median of five. A timing is no test: the figures are reported, and stand in DEVELOPERS.md.
func BenchmarkPagesOnASlowPhone(b *testing.B) {
	base := *salonAt
	if base == "" {
		base, _ = tested.Start(b, "demo", "--data", filepath.Join(b.TempDir(), "salon"), "--photos", "500")
	}
	br := newBrowser(b, base, 390, "light")
	br.open("/")
	full, most := "", -1
	for _, dog := range js[[]string](br, `[...new Set([...document.querySelectorAll('a[href^="/dogs/"]')].map(a => a.getAttribute("href")).filter(h => /^\/dogs\/[0-9a-z]{16}$/.test(h)))]`) {
		n := js[int](br, `(() => { const r = new XMLHttpRequest(); r.open("GET", "/api/v1"+`+quoted(dog)+`+"/timeline", false); r.send(); const t = JSON.parse(r.responseText); return t.unpaired.length + t.sessions.reduce((n, s) => n + s.photos.length, 0) })()`)
		if n > most {
			most, full = n, dog
		}
	}
	b.Logf("%s has %d photos", full, most)
	br.open(full)
	session := js[string](br, `document.querySelector('a[href^="/sessions/"]').getAttribute("href")`)
	compare := js[string](br, `(document.querySelector('a[href^="/compare?a="]') || {getAttribute: () => ""}).getAttribute("href")`)
	pages := [][2]string{{"today", "/"}, {"dog", full}, {"session", session}, {"compare", compare}, {"plan", full + "/plan"}}
	for _, p := range pages {
		if p[1] != "" {
			br.open(p[1]) // what is worked out once a day is worked out
		}
	}
	br.do(chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		if _, err := cdp.Call(ctx, t, network.Enable, network.EnableParams{}); err != nil {
			return err
		}
		if _, err := cdp.Call(ctx, t, network.SetBypassServiceWorker, network.SetBypassServiceWorkerParams{Bypass: true}); err != nil {
			return err
		}
		if _, err := cdp.Call(ctx, t, page.AddScriptToEvaluateOnNewDocument, page.AddScriptToEvaluateOnNewDocumentParams{Source: costOfPage}); err != nil {
			return err
		}
		if _, err := cdp.Call(ctx, t, throttle, throttled{Latency: 150, DownloadThroughput: 1.6e6 / 8, UploadThroughput: 0.75e6 / 8}); err != nil {
			return err
		}
		_, err := cdp.Call(ctx, t, emulation.SetCPUThrottlingRate, emulation.SetCPUThrottlingRateParams{Rate: 4})
		return err
	}))
	for _, p := range pages {
		b.Run(p[0], func(b *testing.B) {
			if p[1] == "" {
				b.Skip("no such page")
			}
			var all []costOf
			for b.Loop() {
				br.do(chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
					_, err := cdp.Call(ctx, t, network.ClearBrowserCache, cdp.Empty{})
					return err
				}), chromedp.Navigate(base+p[1]), chromedp.Sleep(2*time.Second))
				var c costOf
				said := js[string](br, `(cost.sent = performance.getEntries().filter(e => e.entryType === "navigation" || e.entryType === "resource").reduce((n, e) => n + (e.transferSize || 0), 0) / 1000, JSON.stringify(cost))`)
				if err := json.Unmarshal([]byte(said), &c); err != nil {
					b.Fatal(err)
				}
				all = append(all, c)
			}
			median := func(of func(costOf) float64) float64 {
				var v []float64
				for _, c := range all {
					v = append(v, of(c))
				}
				slices.Sort(v)
				return v[len(v)/2]
			}
			b.ReportMetric(median(func(c costOf) float64 { return c.LCP }), "ms-LCP")
			b.ReportMetric(median(func(c costOf) float64 { return c.CLS }), "CLS")
			b.ReportMetric(median(func(c costOf) float64 { return c.TBT }), "ms-TBT")
			b.ReportMetric(median(func(c costOf) float64 { return c.Sent }), "kB")
			b.ReportMetric(0, "ns/op")
			b.Logf("largest: %s", all[0].What)
		})
	}
}
