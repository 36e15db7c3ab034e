package outline

import (
	"encoding/json"
	"errors"
	"image/png"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"thatch/timeline/outside"
)

// opencv cuts by OpenCV's GrabCut, as the script that lies beside the corpora does: a band of 2 % of the body's length
// about the same rough points, two rounds, at 512 px.
func opencv(t *testing.T) func(m masked, pts []XY) []bool {
	outside.Tool(t, "python3", "python3-opencv")
	dir := outside.Dir(t, "photos")
	script, err := filepath.Abs(filepath.Join(dir, "..", "..", "tools", "opencv_outline.py"))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := os.Stat(script); err != nil {
		outside.Skip(t, "the script that calls OpenCV does not lie beside the corpora")
	}
	tmp := t.TempDir()
	return func(m masked, pts []XY) []bool {
		points, mask := filepath.Join(tmp, "points.json"), filepath.Join(tmp, "mask.png")
		polygon := make([][2]float64, len(pts))
		for i, p := range pts {
			polygon[i] = [2]float64{p.X, p.Y}
		}
		b, err := json.Marshal(map[string]any{m.name + ".jpg": polygon})
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(points, b, 0o600); err != nil {
			t.Fatal(err)
		}
		if out, err := exec.Command(script, "--points", points, "--mask", mask, filepath.Join(dir, m.name+".jpg")).CombinedOutput(); err != nil {
			if errors.Is(err, fs.ErrNotExist) || strings.Contains(string(out), "No module named") {
				outside.Skip(t, "OpenCV is not here (Debian: python3-opencv)")
			}
			t.Fatalf("%v: %s", err, out)
		}
		f, err := os.Open(mask)
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close()
		img, err := png.Decode(f)
		if err != nil {
			t.Fatal(err)
		}
		if got := img.Bounds(); got.Dx() != m.w || got.Dy() != m.h {
			t.Fatalf("%s: a mask of %v", m.name, got)
		}
		got := make([]bool, m.w*m.h)
		for i := range got {
			r, _, _, _ := img.At(i%m.w, i/m.w).RGBA()
			got[i] = r > 0x7fff
		}
		return got
	}
}

// Check 34 (E): beside OpenCV from the same points, one draw or THATCH_MANY: ours is better in every figure.
func TestTheOutlineOfRealDogsBesideOpenCV(t *testing.T) {
	theirs := opencv(t)
	photos := maskedPhotos(t)
	n := outside.Many(t, 1)
	for _, k := range []int{20, 8} {
		ours, cv := over(photos, n, k, found(t, PointsGuess)), over(photos, n, k, theirs)
		t.Logf("%2d points, %d draws      ours   OpenCV", k, n)
		t.Logf("  IoU median         %6.3f   %6.3f", ours.iou, cv.iou)
		t.Logf("  IoU worst          %6.3f   %6.3f", ours.worst, cv.worst)
		t.Logf("  boundary, %%        %6.2f   %6.2f", ours.boundary, cv.boundary)
		t.Logf("  topline, %%         %6.2f   %6.2f", ours.topline, cv.topline)
		t.Logf("  topline worst, %%   %6.2f   %6.2f", ours.topWorst, cv.topWorst)
		if ours.iou <= cv.iou || ours.worst <= cv.worst || ours.boundary >= cv.boundary || ours.topline > cv.topline {
			t.Errorf("%d points: OpenCV is better in one of them", k)
		}
	}
}
