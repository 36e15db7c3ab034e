package guess

import (
	"encoding/json"
	"image"
	"image/color"
	"image/png"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"thatch/imaging"
	"thatch/imaging/outline"
	"thatch/imaging/phantom"
	"thatch/timeline"
	"thatch/timeline/outside"
)

func median(v []float64) float64 { return quantile(v, 0.5) }

func quantile(v []float64, q float64) float64 {
	s := slices.Sorted(slices.Values(v))
	return s[min(len(s)-1, int(q*float64(len(s))))]
}

// tapped are the points of a drawn dog, each off by 0.25 % of the body's length in both directions (one standard deviation).
func tapped(tr phantom.Truth, rng *rand.Rand) timeline.Landmarks {
	body := dist(tr.Landmarks[timeline.Prosternum], tr.Landmarks[timeline.Buttock])
	out := timeline.Landmarks{}
	for _, p := range timeline.Points() {
		q := tr.Landmarks[p]
		out[p] = XY{X: q.X + 0.0025*body*rng.NormFloat64(), Y: q.Y + 0.0025*body*rng.NormFloat64()}
	}
	return out
}

func truthMask(tr phantom.Truth) []bool {
	out := make([]bool, len(tr.Mask.Pix))
	for i, v := range tr.Mask.Pix {
		out[i] = v == 255
	}
	return out
}

// look writes a picture with lines over it where THATCH_LOOK names a folder, to be looked at.
func look(t testing.TB, name string, img *image.NRGBA, rings ...[]XY) {
	dir := os.Getenv("THATCH_LOOK")
	if dir == "" {
		return
	}
	out := image.NewNRGBA(img.Rect)
	copy(out.Pix, img.Pix)
	for i, ring := range rings {
		c := []color.NRGBA{{255, 0, 0, 255}, {0, 255, 255, 255}, {255, 255, 0, 255}}[i%3]
		for j, a := range ring {
			b := ring[(j+1)%len(ring)]
			n := int(dist(a, b)*2) + 1
			for k := range n {
				x, y := int(math.Round(a.X+(b.X-a.X)*float64(k)/float64(n))), int(math.Round(a.Y+(b.Y-a.Y)*float64(k)/float64(n)))
				for d := 0; d <= max(img.Rect.Dx(), img.Rect.Dy())/600; d++ {
					out.SetNRGBA(x+d, y, c)
					out.SetNRGBA(x, y+d, c)
				}
			}
		}
	}
	f, err := os.Create(filepath.Join(dir, name+".png"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if err := png.Encode(f, out); err != nil {
		t.Fatal(err)
	}
}

// Kind A: drawn dogs are known exactly.
func TestADogIsOutlinedFromItsPoints(t *testing.T) {
	var rough, iou []float64
	var z []float64
	for seed := range int64(12) {
		dog, coat, pose, cam := standing(920_000+seed, 1008, 756)
		img, tr := phantom.Render(dog, coat, pose, cam, phantom.Rooms()[seed%4])
		rng := rand.New(rand.NewPCG(uint64(seed), 5))
		g, ok := FromLandmarks(tapped(tr, rng), "", 1008, 756)
		if !ok {
			t.Errorf("dog %d: no guess", seed)
			continue
		}
		truth := truthMask(tr)
		m := newMask(1008, 756)
		m.paint(g.Polygon)
		rough = append(rough, overlap(m.in, truth))
		r, err := outline.Find(img, g)
		if err != nil {
			t.Fatal(err)
		}
		iou = append(iou, overlap(r.Mask(), truth))
		tm := &mask{1008, 756, truth}
		ring := tm.ring()
		for i, p := range g.Polygon {
			z = append(z, dist(p, ring[nearestTo(ring, p)])/widthOf(g.Polygon)/g.CornersSD[i])
		}
		look(t, "phantom"+string(rune('a'+seed)), img, g.Polygon, r.Polygon)
		t.Logf("dog %d: template %.3f, cut %.3f, %d corners, sd %.3f to %.3f", seed, rough[len(rough)-1], iou[len(iou)-1], len(g.Polygon), slices.Min(g.CornersSD), slices.Max(g.CornersSD))
	}
	t.Logf("IoU of the template median %.3f worst %.3f, after the cut %.3f %.3f; distance over its SD: median %.2f, p95 %.2f", median(rough), slices.Min(rough), median(iou), slices.Min(iou), median(z), quantile(z, 0.95))
	if len(iou) == 0 || median(iou) < 0.98 || slices.Min(iou) < 0.97 {
		t.Errorf("IoU median %.3f, worst %.3f", median(iou), slices.Min(iou))
	}
}

func widthOf(ring []XY) float64 {
	left, right := math.Inf(1), math.Inf(-1)
	for _, p := range ring {
		left, right = min(left, p.X), max(right, p.X)
	}
	return right - left
}

type photo struct {
	name  string
	img   *image.NRGBA
	truth []bool // nil where nobody has drawn a mask
	w, h  int
}

func photos(t testing.TB) (out []photo) {
	dir := outside.Dir(t, "photos")
	files, _ := filepath.Glob(filepath.Join(dir, "*.jpg"))
	for _, f := range files {
		name := strings.TrimSuffix(filepath.Base(f), ".jpg")
		r, err := os.Open(f)
		if err != nil {
			t.Fatal(err)
		}
		info, _ := r.Stat()
		img, err := imaging.Decode(t.Context(), r, info.Size(), imaging.Facts{})
		r.Close()
		if err != nil {
			t.Fatal(err)
		}
		p := photo{name: name, img: img, w: img.Rect.Dx(), h: img.Rect.Dy()}
		if r, err := os.Open(filepath.Join(dir, "masks", name+".png")); err == nil {
			m, err := png.Decode(r)
			r.Close()
			if err != nil {
				t.Fatal(err)
			}
			b := m.Bounds()
			p.truth = make([]bool, p.w*p.h)
			for i := range p.truth {
				v, _, _, _ := m.At(b.Min.X+i%p.w, b.Min.Y+i/p.w).RGBA()
				p.truth[i] = v > 0x7fff
			}
		}
		out = append(out, p)
	}
	if len(out) == 0 {
		t.Fatal("no photos")
	}
	return out
}

// The joints that are published beside some of the photos (StanfordExtra: Biggs et al. 2020, ECCV) and which of our points
// they are: the nose is ours; the start of the tail is the tail set; the base of the ear lies in front of the occiput, about
// as near as any; the middle joint of a hind leg is the hock, its paw the paw, a foreleg's paw likewise; the top of a
// foreleg is the elbow. Nobody has marked withers
// there.
func stanford(t *testing.T, path string) (timeline.Landmarks, bool) {
	var file struct {
		Joints map[string]XY `json:"joints"`
	}
	b, err := os.ReadFile(path)
	if err != nil {
		return nil, false
	}
	if err := json.Unmarshal(b, &file); err != nil {
		t.Fatal(err)
	}
	lm := timeline.Landmarks{}
	take := func(p timeline.Point, names ...string) {
		for _, n := range names {
			if q, ok := file.Joints[n]; ok {
				lm[p] = q
				return
			}
		}
	}
	take(timeline.Nose, "Nose")
	take(timeline.TailSet, "Tail start")
	near, far := "Left", "Right"
	if lm[timeline.Nose].X > lm[timeline.TailSet].X {
		near, far = far, near
	}
	take(timeline.Occiput, "Base of "+strings.ToLower(near)+" ear", "Base of "+strings.ToLower(far)+" ear")
	for p, joint := range map[timeline.Point]string{timeline.FrontPaw: "front leg: paw", timeline.Elbow: "front leg: top", timeline.HindPaw: "rear leg: paw", timeline.Hock: "rear leg: middle joint"} {
		take(p, near+" "+joint)
	}
	return lm, true
}

// Check 34 (E): real dogs, by joints that somebody has published, mapped to our points as far as they are ours.
func TestRealDogsAreOutlinedFromPublishedJoints(t *testing.T) {
	dir := outside.Dir(t, "photos")
	var iou []float64
	none := 0
	for _, p := range photos(t) {
		lm, ok := stanford(t, filepath.Join(dir, "keypoints", p.name+".json"))
		if !ok || p.truth == nil {
			continue
		}
		g, ok := FromLandmarks(lm, "", p.w, p.h)
		if !ok {
			t.Logf("%s: no guess from %d points", p.name, len(lm))
			none++
			continue
		}
		r, err := outline.Find(p.img, g)
		if err != nil {
			t.Fatal(err)
		}
		m := newMask(p.w, p.h)
		m.paint(g.Polygon)
		iou = append(iou, overlap(r.Mask(), p.truth))
		t.Logf("%s: %d points, template %.3f, cut %.3f", p.name, len(lm), overlap(m.in, p.truth), iou[len(iou)-1])
		look(t, "joints_"+p.name, p.img, g.Polygon, r.Polygon)
	}
	t.Logf("%d photos: IoU median %.3f, worst %.3f; no guess on %d", len(iou), median(iou), slices.Min(iou), none)
	// Seven joints, none of them on the back, of dogs that are no terriers; the two left out look at the camera.
	if len(iou) < 3 || slices.Min(iou) < 0.7 {
		t.Errorf("%d guesses, IoU worst %.3f", len(iou), slices.Min(iou))
	}
}
