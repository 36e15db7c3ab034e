package main

import (
	"bytes"
	"encoding/binary"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"testing"
)

// What is printed is read again, and by the measure that the picture itself says (E: PNG, 11.3.4.3, pHYs, dots per metre): a
// groomer can hold a sheet against the program before the first dog stands beside it.
func TestAPrintedMarkerIsReadBackAtItsOwnScale(t *testing.T) {
	dir := t.TempDir()
	for _, c := range []struct {
		name string
		args []string
		text string
	}{
		{"usual.png", nil, "THATCH1 - 80"},
		{"small.png", []string{"--size-mm", "40"}, "THATCH1 - 40"},
		{"letter.png", []string{"--size-mm", "100", "--paper", "letter"}, "THATCH1 - 100"},
	} {
		file := filepath.Join(dir, c.name)
		if out, code := ask(t, append([]string{"marker", "--out", file}, c.args...)...); code != exitDone {
			t.Fatalf("%s: exit %d: %s", c.name, code, out)
		}
		b, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		at := bytes.Index(b, []byte("pHYs"))
		if at < 0 {
			t.Fatalf("%s does not say how large it is", c.name)
		}
		want := 1000 / float64(binary.BigEndian.Uint32(b[at+4:]))
		var entries []struct {
			Marker *struct {
				Text      string       `json:"text"`
				MMPerPX   float64      `json:"mm_per_px"`
				CornersPX [][2]float64 `json:"corners_px"`
			} `json:"marker"`
		}
		out, code := ask(t, "inspect", "--json", "--marker", file)
		if err := json.Unmarshal(out, &entries); err != nil || code != exitDone || len(entries) != 1 || entries[0].Marker == nil {
			t.Fatalf("%s: exit %d, %v: %s", c.name, code, err, out)
		}
		m := entries[0].Marker
		if m.Text != c.text || math.Abs(m.MMPerPX/want-1) > 0.0005 || len(m.CornersPX) != 4 {
			t.Errorf("%s: %+v, want %s at %.5f mm per px", c.name, *m, c.text, want)
		}
		t.Logf("%s: off by %.4f %%", c.name, 100*(m.MMPerPX/want-1))
		if out, code = ask(t, "inspect", "--json", file); code != exitDone || !bytes.Contains(out, []byte(`"marker": null`)) && !bytes.Contains(out, []byte(`"marker":null`)) {
			t.Errorf("%s: pixels were not asked for: exit %d: %s", c.name, code, out)
		}
	}
}
