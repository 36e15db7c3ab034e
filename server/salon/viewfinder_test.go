package salon

import (
	"bytes"
	"context"
	"image"
	"image/draw"
	"image/png"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"thatch/imaging"
	"thatch/imaging/align"
	"thatch/imaging/align/marker"
	"thatch/imaging/phantom"
	"thatch/timeline"
	"thatch/timeline/outside"
)

func frameJPEG(t testing.TB, img *image.NRGBA, quality int) []byte {
	t.Helper()
	var b bytes.Buffer
	ok(imaging.EncodeJPEG(&b, img, quality))
	return b.Bytes()
}

func plainFrame(w, h int) *image.NRGBA {
	img := image.NewNRGBA(image.Rect(0, 0, w, h))
	for i := range img.Pix {
		img.Pix[i] = 140
	}
	return img
}

// onTable is a drawn dog of 350 mm beside her marker as a camera of the page sends it; turn is the card's, about its vertical.
func onTable(t testing.TB, dog timeline.ID, turnDeg float64) *image.NRGBA {
	t.Helper()
	pic, w, h, err := marker.Card(marker.Text{Dog: dog, SizeMM: marker.DefaultSizeMM}, marker.Labels{Name: "Test"}, 6)
	ok(err)
	d := phantom.Dog{Seed: 7, WithersMM: 350}
	cam := phantom.Frame(d, 960, 720)
	cam.CenterXMM += 55
	cam.MMPerPX *= 1.1
	cam.DistanceMM = 2600
	room := phantom.Rooms()[0]
	room.Board = &phantom.Board{Image: pic, WidthMM: w, HeightMM: h, YMM: 18, YawDeg: turnDeg}
	img, _ := phantom.Render(d, phantom.RingReady(20), phantom.Pose{}, cam, room)
	return img
}

func said(l FrameLook) (keys []string) {
	for _, h := range l.Hints {
		keys = append(keys, h.Key)
	}
	return keys
}

func TestAFrameTellsMarkerAndStandAndNothingElse(t *testing.T) {
	outside.Alone(t)
	s, _ := opened(t)
	d := must(s.CreateDog(ctx, NewDog{Name: "Wisp", WithersMM: 350, Answers: timeline.Answers{On: day("2026-06-01"), Undercoat: timeline.UndercoatSome}}))
	look := func(img *image.NRGBA, dogToo bool) FrameLook {
		t.Helper()
		return must(s.LookAtFrame(ctx, d.ID, timeline.SideLeft, frameJPEG(t, img, 80), dogToo))
	}
	img := onTable(t, d.ID, 0)
	square := look(img, true)
	if square.Marker == nil || len(square.Hints) != 0 {
		t.Fatalf("square to her: marker %v, hints %v", square.Marker, said(square))
	}
	if c := square.Marker.CornersPX; c[1].X-c[0].X < 20 || c[0].X < 480 {
		t.Errorf("the box %v is not that of the marker behind her", c)
	}
	// Seen in a mirror she faces the other way, and a mirrored symbol is none.
	mirrored := look(align.Mirror(img), true)
	if square.Facing != timeline.SideLeft || mirrored.Facing != timeline.SideRight || mirrored.Marker != nil {
		t.Errorf("she faces %q, in a mirror %q with %+v", square.Facing, mirrored.Facing, mirrored.Marker)
	}
	turned := look(onTable(t, d.ID, 20), false)
	if turned.Marker == nil || math.Abs(turned.Marker.TurnDeg) < 10 || len(turned.Hints) != 1 || !strings.HasPrefix(turned.Hints[0].Key, "camera.hint.step_") || turned.Facing != "" {
		t.Errorf("turned: %v (%+v)", said(turned), turned.Marker)
	}
	if empty := look(plainFrame(320, 240), true); empty.Marker != nil || empty.Facing != "" || len(empty.Hints) != 0 {
		t.Errorf("of an empty wall: %+v", empty)
	}
}

func TestHowTheCameraIsHeldIsToldByTheMarker(t *testing.T) {
	dog := timeline.Dog{ID: "wisp", WithersMM: 350}
	at := func(y float64) [4]timeline.XY {
		return [4]timeline.XY{{X: 700, Y: y - 80}, {X: 780, Y: y - 80}, {X: 780, Y: y}, {X: 700, Y: y}}
	}
	held := marker.Marker{CornersPX: at(630), MMPerPX: 1} // its foot 270 mm below a level camera
	with := func(change func(m *marker.Marker)) *marker.Marker { m := held; change(&m); return &m }
	for what, c := range map[string]struct {
		m    *marker.Marker
		told []marker.Told
		want string
	}{
		"as it should":                    {with(func(*marker.Marker) {}), nil, ""},
		"its own dog's":                   {with(func(m *marker.Marker) { m.Text.Dog = "wisp" }), nil, ""},
		"another dog's":                   {with(func(m *marker.Marker) { m.Text.Dog = "bramble" }), nil, "camera.hint.other_marker"},
		"the right side farther away":     {with(func(m *marker.Marker) { m.TurnDeg = 12 }), nil, "camera.hint.step_right"},
		"the left side farther away":      {with(func(m *marker.Marker) { m.TurnDeg = -12 }), nil, "camera.hint.step_left"},
		"a little turned":                 {with(func(m *marker.Marker) { m.TurnDeg = 6 }), nil, ""},
		"the top nearer":                  {with(func(m *marker.Marker) { m.LeanDeg = -10 }), nil, "camera.hint.looks_down"},
		"the top farther away":            {with(func(m *marker.Marker) { m.LeanDeg = 10 }), nil, "camera.hint.looks_up"},
		"level, 700 mm above the foot":    {with(func(m *marker.Marker) { m.CornersPX, m.MMPerPX = at(710), 2 }), nil, "camera.hint.too_high"},
		"level, 40 mm above the foot":     {with(func(m *marker.Marker) { m.CornersPX = at(400) }), nil, "camera.hint.too_low"},
		"not level, so nothing of height": {with(func(m *marker.Marker) { m.CornersPX, m.MMPerPX, m.LeanDeg = at(710), 2, 6 }), nil, ""},
		"none":                            {nil, nil, ""},
		"somebody else's code":            {nil, []marker.Told{{Trouble: marker.TroubleForeign}}, ""},
		"hidden in part":                  {nil, []marker.Told{{Trouble: marker.TroubleForeign}, {Trouble: marker.TroubleHidden}}, "marker.why.hidden"},
	} {
		l := FrameLook{WidthPX: 960, HeightPX: 720}
		l.byMarker(marker.Found{Marker: c.m, Told: c.told}, dog)
		if got := strings.Join(said(l), " "); got != c.want {
			t.Errorf("%s: %q, want %q", what, got, c.want)
		}
	}
}

func TestAFrameThatIsNoneIsRefused(t *testing.T) {
	s, _ := opened(t)
	d := newDog(t, s, "Wisp", day("2026-06-01"))
	noise := plainFrame(1000, 1000)
	for i := range noise.Pix {
		noise.Pix[i] = uint8(i*2654435761>>13) | uint8(i*40503>>7)
	}
	var asPNG bytes.Buffer
	ok(png.Encode(&asPNG, plainFrame(100, 80)))
	whole := frameJPEG(t, plainFrame(320, 240), 80)
	for what, c := range map[string]struct {
		b    []byte
		kind timeline.Kind
		key  string
	}{
		"nothing":         {nil, timeline.Invalid, ""},
		"a text":          {[]byte("<html>"), timeline.Invalid, ""},
		"a PNG":           {asPNG.Bytes(), timeline.Invalid, "fault.frame.form"},
		"a cut JPEG":      {whole[:len(whole)/3], timeline.Invalid, ""},
		"too wide":        {frameJPEG(t, plainFrame(MaxFramePX+1, 20), 80), timeline.TooLarge, "fault.frame.large"},
		"too many bytes":  {frameJPEG(t, noise, 100), timeline.TooLarge, "fault.frame.large"},
		"a bomb of a few": {bomb(whole), timeline.TooLarge, ""},
	} {
		_, err := s.LookAtFrame(ctx, d.ID, timeline.SideLeft, c.b, true)
		f := faultOf(err)
		if f == nil || f.Kind != c.kind || c.key != "" && f.Say.Key != c.key {
			t.Errorf("%s (%d bytes): %v", what, len(c.b), err)
		}
	}
	_, err := s.LookAtFrame(ctx, "zzzzzzzzzzzzzzzz", timeline.SideLeft, whole, false)
	if timeline.KindOf(err) != timeline.NotFound {
		t.Errorf("for no dog: %v", err)
	}
	if _, err = s.LookAtFrame(ctx, d.ID, "below", whole, false); timeline.KindOf(err) != timeline.Invalid {
		t.Errorf("of no side: %v", err)
	}
	photos := must(s.Photos(ctx, d.ID))
	if len(photos) != 0 {
		t.Errorf("%d photos are kept of frames", len(photos))
	}
}

// bomb says in its header that it is 60,000 px wide.
func bomb(jpeg []byte) []byte {
	b := slices.Clone(jpeg)
	i := bytes.Index(b, []byte{0xff, 0xc0})
	b[i+5], b[i+6], b[i+7], b[i+8] = 0xea, 0x60, 0xea, 0x60
	return b
}

func TestOnePersonHasOneFrameLookedAtAtATime(t *testing.T) {
	s, _ := opened(t)
	d := newDog(t, s, "Wisp", day("2026-06-01"))
	b := frameJPEG(t, plainFrame(320, 240), 80)
	as := func(id timeline.ID) context.Context {
		return timeline.WithVisitor(ctx, timeline.Visitor{Person: id, Role: timeline.Groomer})
	}
	release, err := s.finder.take(as("greta"), "greta")
	ok(err)
	_, err = s.LookAtFrame(as("greta"), d.ID, timeline.SideLeft, b, false)
	wantFault(t, err, timeline.TooMany, "fault.frame.busy", "")
	// Another waits for the turn, and is sent away when it takes too long.
	began := time.Now()
	_, err = s.LookAtFrame(as("olive"), d.ID, timeline.SideLeft, b, false)
	wantFault(t, err, timeline.TooMany, "fault.frame.busy", "")
	if took := time.Since(began); took < frameWait/2 || took > 20*frameWait {
		t.Errorf("sent away after %v", took)
	}
	release()
	for _, who := range []timeline.ID{"greta", "olive"} {
		if _, err := s.LookAtFrame(as(who), d.ID, timeline.SideLeft, b, false); err != nil {
			t.Errorf("%s after that: %v", who, err)
		}
	}
	if len(s.finder.busy) != 0 {
		t.Errorf("still busy: %v", s.finder.busy)
	}
}

// FuzzFrame: whatever a browser sends is answered or refused, and never larger in memory than a frame may be.
func FuzzFrame(f *testing.F) {
	var b bytes.Buffer
	img := image.NewNRGBA(image.Rect(0, 0, 32, 24))
	draw.Draw(img, img.Rect, image.White, image.Point{}, draw.Src)
	ok(imaging.EncodeJPEG(&b, img, 70))
	f.Add(b.Bytes())
	f.Add(bomb(b.Bytes()))
	f.Add([]byte("\xff\xd8\xff\xe1\x00\x10Exif\x00\x00MM\x00*"))
	f.Fuzz(func(t *testing.T, b []byte) {
		img, err := frameOfJPEG(ctx, b)
		if err != nil {
			if k := timeline.KindOf(err); k != timeline.Invalid && k != timeline.TooLarge {
				t.Errorf("refused as %d: %v", k, err)
			}
			return
		}
		if img.Rect.Dx() > MaxFramePX || img.Rect.Dy() > MaxFramePX || img.Rect.Empty() {
			t.Errorf("decoded to %v", img.Rect)
		}
	})
}

func BenchmarkFrame(b *testing.B) {
	jpeg := frameJPEG(b, onTable(b, "7h2k9m4qx0abcdef", 0), 70)
	b.ReportMetric(math.Round(float64(len(jpeg))/1024), "KiB")
	for _, dog := range []bool{false, true} {
		b.Run(map[bool]string{false: "marker", true: "marker and dog"}[dog], func(b *testing.B) {
			for b.Loop() {
				img := must(frameOfJPEG(ctx, jpeg))
				must(lookAtFrame(b.Context(), img, Ghost{Side: timeline.SideLeft}, dog))
			}
		})
	}
}
