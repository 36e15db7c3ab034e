package align

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"sort"
	"strconv"

	"thatch/timeline"
)

// maxLandmarkBytes bounds a file of points: some 40,000 photos with every point placed.
const maxLandmarkBytes = 32 << 20

// ReadLandmarks reads {"photo.jpg":{"withers":[x,y],…},…}: photo name → point → [x, y] in px of the upright photo.
// It is strict: an unknown point, a point or photo given twice, anything but two finite numbers, and anything after
// the document are refused with a Fault of kind Invalid whose Field says where. The map is never nil without an error.
func ReadLandmarks(r io.Reader) (map[string]timeline.Landmarks, error) {
	b, err := io.ReadAll(io.LimitReader(r, maxLandmarkBytes+1))
	if err != nil {
		return nil, timeline.NewFault(timeline.Internal, "fault.align.points_unreadable").At("read landmarks").Because(err)
	}
	if len(b) > maxLandmarkBytes {
		return nil, timeline.NewFault(timeline.TooLarge, "fault.align.points_too_large").At("read landmarks")
	}
	d := json.NewDecoder(bytes.NewReader(b))
	out := map[string]timeline.Landmarks{}
	err = object(d, "", func(photo string) error {
		if _, twice := out[photo]; twice {
			return twiceFault(strconv.Quote(photo))
		}
		lm := timeline.Landmarks{}
		out[photo] = lm
		return object(d, strconv.Quote(photo), func(name string) error {
			field := strconv.Quote(photo) + "." + name
			p := timeline.Point(name)
			if !p.Known() {
				return timeline.NewFault(timeline.Invalid, "fault.align.unknown_point", "point", name, "photo", photo).At("read landmarks").In(field)
			}
			if _, twice := lm[p]; twice {
				return twiceFault(field)
			}
			var raw json.RawMessage
			if err := d.Decode(&raw); err != nil {
				return syntax(d, err)
			}
			var xy timeline.XY
			if err := json.Unmarshal(raw, &xy); err != nil || bytes.Contains(raw, []byte("null")) {
				return timeline.NewFault(timeline.Invalid, "fault.align.not_xy", "point", p, "photo", photo).At("read landmarks").In(field).Because(err)
			}
			lm[p] = xy
			return nil
		})
	})
	if err != nil {
		return nil, err
	}
	if _, err := d.Token(); !errors.Is(err, io.EOF) {
		return nil, syntax(d, fmt.Errorf("something follows the document"))
	}
	return out, nil
}

// object walks one JSON object; each is called with the decoder before the value of the key.
func object(d *json.Decoder, field string, each func(key string) error) error {
	t, err := d.Token()
	if err != nil {
		return syntax(d, err)
	}
	if t != json.Delim('{') {
		return timeline.NewFault(timeline.Invalid, "fault.align.not_points", "at", d.InputOffset()).At("read landmarks").In(field)
	}
	for d.More() {
		k, err := d.Token()
		if err != nil {
			return syntax(d, err)
		}
		if err := each(k.(string)); err != nil {
			return err
		}
	}
	if _, err := d.Token(); err != nil {
		return syntax(d, err)
	}
	return nil
}

func syntax(d *json.Decoder, err error) error {
	return timeline.NewFault(timeline.Invalid, "fault.align.not_points", "at", d.InputOffset()).At("read landmarks").Because(err)
}

func twiceFault(field string) error {
	return timeline.NewFault(timeline.Invalid, "fault.align.point_twice", "where", field).At("read landmarks").In(field)
}

// WriteLandmarks writes what ReadLandmarks reads: photos by name, points in the order in which they are asked for, one
// photo a line. Unknown points and numbers that are not finite are refused before anything is written.
func WriteLandmarks(w io.Writer, m map[string]timeline.Landmarks) error {
	names := make([]string, 0, len(m))
	for name, lm := range m {
		for p, xy := range lm {
			if s := xy.X + xy.Y; !p.Known() || math.IsNaN(s) || math.IsInf(s, 0) {
				return timeline.NewFault(timeline.Invalid, "fault.align.unknown_point", "point", string(p), "photo", name).At("write landmarks")
			}
		}
		names = append(names, name)
	}
	sort.Strings(names)
	var b bytes.Buffer
	b.WriteString("{")
	for i, name := range names {
		if i > 0 {
			b.WriteString(",")
		}
		k, err := json.Marshal(name)
		if err != nil {
			return timeline.NewFault(timeline.Internal, "fault.align.points_unreadable").At("write landmarks").Because(err)
		}
		fmt.Fprintf(&b, "\n %s: {", k)
		sep := ""
		for _, p := range timeline.Points() {
			if xy, ok := m[name][p]; ok {
				fmt.Fprintf(&b, "%s%q: [%s, %s]", sep, string(p), number(xy.X), number(xy.Y))
				sep = ", "
			}
		}
		b.WriteString("}")
	}
	b.WriteString("\n}\n")
	_, err := w.Write(b.Bytes())
	return err
}

func number(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) }
