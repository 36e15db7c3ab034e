package browsed

import (
	"bytes"
	"fmt"
	"image"
	"image/draw"
	"image/png"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"thatch/imaging"
	"thatch/imaging/align/marker"
	"thatch/timeline"

	"thatch/cmd/thatch/tested"
)

// photoBeside is a file with a photo of a dog's printed marker; dog "" stands for a wall with nothing on it.
func photoBeside(t *testing.T, dir, name, dog string, at time.Time) string {
	t.Helper()
	img := image.NewNRGBA(image.Rect(0, 0, 1200, 1000))
	for i := range img.Pix {
		img.Pix[i] = 130
	}
	if dog != "" {
		var b bytes.Buffer
		if err := marker.WritePNG(&b, marker.Text{Dog: timeline.ID(dog), SizeMM: marker.DefaultSizeMM}, marker.A4, marker.Labels{}); err != nil {
			t.Fatal(err)
		}
		printed, err := png.Decode(&b)
		if err != nil {
			t.Fatal(err)
		}
		sheet := image.NewNRGBA(printed.Bounds())
		draw.Draw(sheet, sheet.Rect, printed, image.Point{}, draw.Src)
		draw.Draw(img, image.Rect(300, 60, 1200, 960), imaging.Resize(sheet, 880), image.Point{}, draw.Src)
	}
	var b bytes.Buffer
	if err := imaging.EncodeJPEG(&b, img, 85); err != nil {
		t.Fatal(err)
	}
	out, err := imaging.InsertEXIF(b.Bytes(), imaging.EXIFFields{TakenLocal: at})
	if err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(dir, name)
	if err := os.WriteFile(file, out, 0o600); err != nil {
		t.Fatal(err)
	}
	return file
}

// The photos of a day go in at once; a tap a dog files them, and of the one without a marker the groomer says whose it is.
func TestPhotosOfADayAreSortedOnAPhone(t *testing.T) {
	base, _ := tested.Start(t, "serve", "--data", t.TempDir())
	b := newBrowser(t, base, 390, "light")
	dogs := map[string]string{}
	for _, name := range []string{"Wisp", "Bracken"} {
		b.open("/dogs/new")
		b.fill(`[name="name"]`, name)
		b.follow(`form[action="/dogs"] button`)
		dogs[name] = filepath.Base(strings.TrimSuffix(js[string](b, `document.querySelector('a[href$="/marker"]').pathname`), "/marker"))
	}
	b.follow(`a[href$="/marker"]`)
	b.until("the sheet", `document.querySelector(".marker-sheet img").naturalWidth > 2000`)
	b.seen("marker")
	b.open("/heap")
	b.seen("heap-empty")

	dir, noon := t.TempDir(), time.Now().UTC().Truncate(24*time.Hour).Add(-12*time.Hour)
	var files []string
	for i, dog := range []string{dogs["Wisp"], dogs["Wisp"], dogs["Bracken"], "", dogs["Wisp"]} {
		files = append(files, photoBeside(t, dir, fmt.Sprintf("p%d.jpg", i), dog, noon.Add(time.Duration(i)*time.Minute)))
	}
	b.do(chromedp.SetUploadFiles(chromedp.CSS("#f-many"), files))
	b.until("five stored photos", `document.querySelectorAll("[data-upload-rows] .up-state").length === 5`)
	b.follow(`[data-upload-rows] ~ p a`)
	for end := time.Now().Add(time.Minute); strings.Contains(b.text("main"), "still being looked at") && time.Now().Before(end); time.Sleep(200 * time.Millisecond) {
		b.open("/heap")
	}
	group := func(name string) string { return "#dog-" + dogs[name] }
	if got := b.text(group("Wisp") + " h2"); got != "These 3 are Wisp's" {
		t.Fatalf("her photos: %q; the page:\n%s", got, b.text("main"))
	}
	b.seen("heap")
	if h := js[float64](b, `Math.min(...[...document.querySelectorAll(".heap button, .heap .button, .heap-larger, .heap-words, .heap summary")].filter(e => e.offsetParent).map(e => e.getBoundingClientRect().height))`); h < 44 {
		t.Errorf("something to tap is %.0f px high", h)
	}

	// A tap on the picture unticks it; the others go to her timeline.
	b.click(group("Wisp") + ` .heap-tile:nth-child(2) .heap-face`)
	b.follow(group("Wisp") + ` button[value="file"]`)
	if got := b.text("main"); !strings.Contains(got, "2 photos are on Wisp's timeline") || !strings.Contains(got, "This one is Wisp's") {
		t.Errorf("after filing:\n%s", got)
	}
	// The one that nobody knows.
	b.click(`#others .heap-face`)
	b.follow(`#others button[value="dog ` + dogs["Bracken"] + `"]`)
	if got := b.text(group("Bracken") + " h2"); got != "These 2 are Bracken's" {
		t.Errorf("after saying whose it is: %q", got)
	}
	// The last of Wisp's is put aside, and comes back.
	b.click(group("Wisp") + ` .heap-else summary`)
	b.follow(group("Wisp") + ` button[value="trash"]`)
	if b.has(group("Wisp")) {
		t.Error("what was put aside still waits")
	}
	b.follow(`form[action^="/restore/heap/"] button`)
	b.follow(group("Wisp") + ` .heap-larger`)
	b.seen("heap-one")
	b.follow(`button[value="file"]`)
	b.follow(group("Bracken") + ` button[value="file"]`)
	if got := b.text("main"); !strings.Contains(got, "Nothing waits") {
		t.Errorf("in the end:\n%s", got)
	}
	b.open("/dogs/" + dogs["Wisp"])
	b.follow(".tiles .tile")
	if got := b.text("main"); !strings.Contains(got, "mm per px, ±") {
		t.Errorf("her photo says:\n%s", got)
	}
	b.seen("photo-with-marker")
}
