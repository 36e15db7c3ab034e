package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"testing"
)

// A: photo and reference are one phantom, one coat, from two camera positions, so the scale between them is the quotient of the
// true mm per px, the turn is the difference of the true rolls, and what is left between the points is the dog shifting its feet and
// back: under half a percent of the 2016 px of its width.
func TestAPhantomIsLaidOverItselfAsItsTruthSays(t *testing.T) {
	for seed := 1; seed <= 6; seed++ {
		dir := t.TempDir()
		if _, code := ask(t, "phantom", "--out", dir, "--seed", fmt.Sprint(seed), "--sessions", "1", "--photos", "2"); code != exitDone {
			t.Fatalf("phantom: exit %d", code)
		}
		ref, photo := "dog1-session1-photo1.jpg", "dog1-session1-photo2.jpg"
		b, err := os.ReadFile(filepath.Join(dir, "truth.json"))
		if err != nil {
			t.Fatal(err)
		}
		var truth map[string]phantomTruth
		if err := json.Unmarshal(b, &truth); err != nil {
			t.Fatal(err)
		}
		out, code := ask(t, "align", "--json", "--to", filepath.Join(dir, ref), "--landmarks", filepath.Join(dir, "landmarks.json"), filepath.Join(dir, photo))
		var r alignReport
		if err := json.Unmarshal(out, &r); err != nil || code != exitDone {
			t.Fatalf("align: exit %d, %v", code, err)
		}
		if !r.Comparable || r.Why != "" || r.Mirrored != (truth[ref].Facing != truth[photo].Facing) {
			t.Errorf("seed %d: comparable %v, mirrored %v, %q", seed, r.Comparable, r.Mirrored, r.Why)
		}
		if r.RMSPX > 10 || r.RMSPX == 0 {
			t.Errorf("seed %d: %.2f px between the points", seed, r.RMSPX)
		}
		scale := truth[photo].MMPerPX / truth[ref].MMPerPX
		if math.Abs(r.Scale/scale-1) > 0.01 {
			t.Errorf("seed %d: scale %.4f, the truth is %.4f", seed, r.Scale, scale)
		}
		turn := truth[ref].RollDeg - truth[photo].RollDeg
		if math.Abs(r.RotationDeg-turn) > 0.5 {
			t.Errorf("seed %d: turned by %.2f°, the truth is %.2f°", seed, r.RotationDeg, turn)
		}
	}
}

// The documents of one small coat stay as they were; the model itself is checked in its own room.
func TestTheDocumentsOfACoatStayAsTheyWere(t *testing.T) {
	coatFile := filepath.Join("testdata", "golden", "coat.json")
	for name, args := range map[string][]string{
		"forecast.golden.json": {"forecast", "--json", "--on", "2026-05-24", coatFile},
		"plan.golden.json":     {"plan", "--json", coatFile},
	} {
		got, code := ask(t, args...)
		if code != exitDone {
			t.Fatalf("%s: exit %d", name, code)
		}
		file := filepath.Join("testdata", "golden", name)
		if *update {
			if err := os.WriteFile(file, got, 0o644); err != nil {
				t.Fatal(err)
			}
			continue
		}
		want, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		if where := differ("", decode(t, got), decode(t, want)); where != "" {
			t.Errorf("%s: %s (-update writes it anew)", name, where)
		}
	}
}

func TestADifferenceBetweenDocumentsIsSeen(t *testing.T) {
	want := decode(t, []byte(`{"a": [1, 2.5], "s": "take", "n": null}`))
	for doc, same := range map[string]bool{
		`{"a": [1, 2.5], "s": "take", "n": null}`:          true,
		`{"a": [1, 2.5000000001], "s": "take", "n": null}`: true,
		`{"a": [1, 2.51], "s": "take", "n": null}`:         false,
		`{"a": [1], "s": "take", "n": null}`:               false,
		`{"a": [1, 2.5], "s": "leave", "n": null}`:         false,
		`{"a": [1, 2.5], "s": "take"}`:                     false,
		`{"a": [1, 2.5], "s": "take", "n": null, "m": 1}`:  false,
	} {
		if got := differ("", decode(t, []byte(doc)), want); (got == "") != same {
			t.Errorf("%s: %q", doc, got)
		}
	}
}

// differ names the first place where two documents differ, or "". Numbers agree to 1e-6 relative: other processors fuse
// multiplications and round elsewhere.
func differ(at string, a, b any) string {
	switch b := b.(type) {
	case map[string]any:
		m, ok := a.(map[string]any)
		if !ok || len(m) != len(b) {
			return fmt.Sprintf("%s is %v, was %v", at, a, b)
		}
		for k, v := range b {
			w, there := m[k]
			if !there {
				return at + "." + k + " is gone"
			}
			if d := differ(at+"."+k, w, v); d != "" {
				return d
			}
		}
	case []any:
		l, ok := a.([]any)
		if !ok || len(l) != len(b) {
			return fmt.Sprintf("%s is %v, was %v", at, a, b)
		}
		for i := range b {
			if d := differ(fmt.Sprintf("%s[%d]", at, i), l[i], b[i]); d != "" {
				return d
			}
		}
	case float64:
		if f, ok := a.(float64); !ok || math.Abs(f-b) > 1e-6*max(1, math.Abs(b)) {
			return fmt.Sprintf("%s is %v, was %v", at, a, b)
		}
	default:
		if !reflect.DeepEqual(a, b) {
			return fmt.Sprintf("%s is %v, was %v", at, a, b)
		}
	}
	return ""
}

func decode(t *testing.T, b []byte) (v any) {
	t.Helper()
	if err := json.Unmarshal(b, &v); err != nil {
		t.Fatal(err)
	}
	return v
}

// ask runs a command in this process: what it printed, and its exit code.
func ask(t *testing.T, args ...string) ([]byte, int) {
	t.Helper()
	var out, complaint bytes.Buffer
	code := run(t.Context(), args, &out, &complaint)
	if code == exitInput {
		t.Log(complaint.String())
	}
	return out.Bytes(), code
}
