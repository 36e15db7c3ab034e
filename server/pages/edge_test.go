package pages_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"

	"thatch/imaging"
	"thatch/imaging/phantom"
	"thatch/server/salon"
	"thatch/timeline"
	"thatch/timeline/outside"
)

// posed is a drawn dog's photo with its true points.
func (x *house) posed(d timeline.ID, facing timeline.Side) (timeline.Photo, phantom.Truth) {
	x.t.Helper()
	body := phantom.Dog{Seed: 11, WithersMM: 340}
	img, truth := phantom.Render(body, phantom.RingReady(20), phantom.Pose{Facing: facing}, phantom.Frame(body, 640, 480), phantom.Rooms()[0])
	var b bytes.Buffer
	if err := imaging.EncodeJPEG(&b, img, 88); err != nil {
		x.t.Fatal(err)
	}
	ctx := x.t.Context()
	a := must(x.s.AddPhoto(ctx, d, string(facing)+".jpg", bytes.NewReader(must(imaging.InsertEXIF(b.Bytes(), imaging.EXIFFields{TakenLocal: at(wednesday, 9, 0)}))), ""))
	return must(x.s.SavePoints(ctx, a.Photo.ID, a.Photo.Rev, truth.Landmarks)), truth
}

// asks is a post of a script.
func (x *house) asks(path string, fields ...string) (code int, got map[string]any) {
	x.t.Helper()
	v := url.Values{}
	for i := 0; i+1 < len(fields); i += 2 {
		v.Add(fields[i], fields[i+1])
	}
	r := httptest.NewRequest("POST", path, strings.NewReader(v.Encode()))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	r.Header.Set("Accept", "application/json")
	w := x.ask(r)
	if err := json.Unmarshal(w.Body.Bytes(), &got); err != nil {
		x.t.Fatalf("%s answers a script with %d: %v", path, w.Code, err)
	}
	return w.Code, got
}

func TestTheEdgeIsFoundAndLookedAtWithoutAScript(t *testing.T) {
	outside.Alone(t)
	x, _ := dated(t)
	d := x.rolled()
	p, truth := x.posed(d.ID, timeline.SideLeft)
	page := "/photos/" + string(p.ID) + "/edge"
	w := x.get(page)
	x.sound("no edge yet", w)
	if body := w.Body.String(); w.Code != 200 || !strings.Contains(body, "No edge yet") || !strings.Contains(body, `action="`+page+`/find"`) {
		t.Errorf("no edge yet: %d", w.Code)
	}
	if !strings.Contains(x.get("/photos/"+string(p.ID)).Body.String(), `href="`+page+`"`) {
		t.Error("the photo does not lead to its edge")
	}
	x.goes(x.post(page+"/find", "rev", "0"), page)
	w = x.get(page)
	x.sound("found", w)
	if body := w.Body.String(); !strings.Contains(body, `class="edge-run edge-open" data-run="back"`) || !strings.Contains(body, "Found from the points") {
		t.Error("the edge is not drawn, or does not say where it was found from")
	}

	// Topline at one tap, then a zone with a reason.
	x.goes(x.post(page+"/zones", "rev", "1", "say", "right topline"), page)
	x.goes(x.post(page+"/zones", "rev", "2", "say", "lead crest"), page)
	w = x.get(page)
	x.sound("looked at", w)
	for _, want := range []string{`edge-run edge-right" data-run="back"`, `edge-run edge-look" data-run="crest"`, "look only: lead across it", `value="unsaid back"`, "4 zones are right"} {
		if !strings.Contains(w.Body.String(), want) {
			t.Errorf("the page lacks %s", want)
		}
	}
	x.refuses("from an older page", x.post(page+"/zones", "rev", "1", "say", "right thigh"), 409)
	x.refuses("nothing of ours", x.post(page+"/zones", "rev", "3", "say", "fine wing"), 422)
	x.refuses("no version", x.post(page+"/zones", "say", "right thigh"), 422)

	// A rough line by numbers.
	var rough []string
	for i := 0; i < len(truth.Outline); i += len(truth.Outline) / 24 {
		rough = append(rough, fmt.Sprintf("%.0f, %.0f", truth.Outline[i].X, truth.Outline[i].Y))
	}
	x.refuses("a line that is no place", x.post(page+"/rough", "rev", "3", "points", "12 34\nfifty six"), 422, "fifty six")
	x.refuses("two places", x.post(page+"/rough", "rev", "3", "points", "12 34\n56 78"), 422, "56 78")
	x.goes(x.post(page+"/rough", "rev", "3", "points", strings.Join(rough, "\r\n")), page)
	if body := x.get(page).Body.String(); !strings.Contains(body, "Found from your rough line") {
		t.Error("the rough line was not taken")
	}
}

func TestTheScriptOfTheEdgeIsAnsweredInItsOwnForm(t *testing.T) {
	x, _ := dated(t)
	d := x.rolled()
	p, truth := x.posed(d.ID, timeline.SideRight)
	page := "/photos/" + string(p.ID) + "/edge"
	code, found := x.asks(page+"/find", "rev", "0")
	polygon, _ := found["polygon"].([]any)
	if code != 200 || len(polygon) < 200 || found["rev"].(float64) != 1 || len(found["zones"].([]any)) != 14 {
		t.Fatalf("%d, %d numbers", code, len(polygon))
	}
	at := truth.Landmarks[timeline.MidBack]
	strokes := fmt.Sprintf(`[{"do":"out","radius_px":9,"path":[[%.1f,%.1f],[%.1f,%.1f]]}]`, at.X-4, at.Y+5, at.X+4, at.Y+5)
	code, cut := x.asks(page+"/correct", "rev", "1", "strokes", strokes)
	if code != 200 || cut["rev"].(float64) != 2 {
		t.Fatalf("painting out: %d %v", code, cut["fault"])
	}
	was, _ := json.Marshal(map[string]any{"polygon": polygon, "holes": found["holes"], "confirmed": []string{"back"}})
	code, back := x.asks(page+"/back", "rev", "2", "edge", string(was))
	if code != 200 || len(back["polygon"].([]any)) != len(polygon) || !strings.Contains(fmt.Sprint(back["zones"]), "state:right") {
		t.Errorf("undo: %d %v", code, back["fault"])
	}
	for name, c := range map[string]struct {
		path   string
		fields []string
		code   int
	}{
		"strokes that cannot be read": {"/correct", []string{"rev", "3", "strokes", "[{]"}, 422},
		"a tool that is none":         {"/correct", []string{"rev", "3", "strokes", `[{"do":"cut","radius_px":9,"path":[[1,2]]}]`}, 422},
		"from an older page":          {"/correct", []string{"rev", "1", "strokes", strokes}, 409},
		"an edge of nothing":          {"/back", []string{"rev", "3", "edge", `{"polygon":[]}`}, 422},
		"an edge that cannot be read": {"/back", []string{"rev", "3", "edge", "edge"}, 422},
		"a version that is none":      {"/find", []string{"rev", "x"}, 422},
	} {
		t.Run(name, func(t *testing.T) {
			code, got := x.asks(page+c.path, c.fields...)
			if text, _ := got["fault"].(string); code != c.code || len(text) < 20 || strings.Contains(text, "fault.") {
				t.Errorf("%d %v", code, got)
			}
		})
	}
	if code, _ := x.asks("/photos/none/edge/find", "rev", "0"); code != 404 {
		t.Errorf("a photo that is none: %d", code)
	}
}

func TestAPhotoFromBehindHasNoEdgeAndSaysSo(t *testing.T) {
	x, _ := dated(t)
	d := x.rolled()
	p := x.snap(d.ID, 90, at(wednesday, 9, 0))
	p = must(x.s.SetPhotoFacts(t.Context(), p.ID, p.Rev, salon.PhotoEdit{Side: timeline.SideRear}))
	page := "/photos/" + string(p.ID) + "/edge"
	w := x.get(page)
	x.sound("from behind", w)
	if body := w.Body.String(); w.Code != 200 || strings.Contains(body, "data-edge ") || !strings.Contains(body, "left or the right side") {
		t.Errorf("%d: %s", w.Code, body)
	}
	if strings.Contains(x.get("/photos/"+string(p.ID)).Body.String(), page) {
		t.Error("the photo leads to an edge that it cannot have")
	}
	x.refuses("looking for it", x.post(page+"/find", "rev", "0"), 422)
}
