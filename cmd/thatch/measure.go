package main

import (
	"context"
	"math"
	"path/filepath"
	"slices"

	"thatch/imaging"
	"thatch/imaging/align"
	"thatch/imaging/align/marker"
	"thatch/imaging/measure"
	"thatch/imaging/outline"
	"thatch/imaging/outline/guess"
	"thatch/server/salon"
	"thatch/timeline"
)

type measureCmd struct {
	Landmarks string   `help:"${cmd_help_measure_landmarks}" required:"" placeholder:"L.json" type:"path"`
	MMPerPX   float64  `name:"mm-per-px" help:"${cmd_help_measure_scale}" placeholder:"X"`
	Readings  string   `help:"${cmd_help_measure_readings}" placeholder:"R.json" type:"path"`
	JSON      bool     `name:"json" help:"${cmd_help_json}"`
	Files     []string `arg:"" name:"file" help:"${cmd_help_measure_file}" type:"path"`
}

// measureReport is the last sitting's; Sittings are all of them, in the order of time.
type measureReport struct {
	sittingReport
	Sittings []sittingReport `json:"sittings"`
}

type sittingReport struct {
	Photos   []string                     `json:"photos"`
	MMPerPX  *scaleReport                 `json:"mm_per_px"` // of the sitting's first photo that has one
	Topline  *shapeReport                 `json:"topline"`
	Zones    map[timeline.Zone]zoneReport `json:"zones"`
	LookOnly map[string]string            `json:"look_only"` // photos that no figure is read from, and why
}

type scaleReport struct {
	Value  float64 `json:"value"`
	SD     float64 `json:"sd"`
	Source string  `json:"source"` // "given" or "marker"
}

type shapeReport struct {
	Deviation []placeReport `json:"deviation_mm"`
	N         int           `json:"n"`
}

type placeReport struct {
	AtMM float64 `json:"at_mm"`
	MM   float64 `json:"mm"`
	SD   float64 `json:"sd"`
}

type zoneReport struct {
	DepthMM  *distReport `json:"depth_mm"`
	SD       float64     `json:"sd"`
	N        int         `json:"n"`
	LookOnly string      `json:"look_only"`
}

type distReport struct {
	Median float64 `json:"median"`
	P10    float64 `json:"p10"`
	P90    float64 `json:"p90"`
}

func (c *measureCmd) Run(ctx context.Context, s streams) error {
	all, err := readFrom(c.Landmarks, align.ReadLandmarks)
	if err != nil {
		return err
	}
	var readings measure.ReadingsFile
	if c.Readings != "" {
		if readings, err = readFrom(c.Readings, measure.ReadReadings); err != nil {
			return err
		}
	}
	if c.MMPerPX < 0 || math.IsNaN(c.MMPerPX) || math.IsInf(c.MMPerPX, 0) {
		return timeline.NewFault(timeline.Invalid, "fault.measure.scale").In("mm-per-px")
	}
	names := make([]string, len(c.Files))
	for i, f := range c.Files {
		names[i] = filepath.Base(f)
		if slices.Contains(names[:i], names[i]) {
			return timeline.NewFault(timeline.Invalid, "fault.measure.same_name", "file", names[i]).In("file")
		}
		if _, ok := all[names[i]]; !ok {
			return timeline.NewFault(timeline.Invalid, "fault.cmd.no_landmarks", "file", names[i]).In("landmarks")
		}
	}
	sittings, of := groups(readings, names)
	reports := make([]sittingReport, len(sittings))
	for k := range reports {
		reports[k] = sittingReport{Photos: []string{}, Zones: map[timeline.Zone]zoneReport{}, LookOnly: map[string]string{}}
	}
	var shots []measure.Shot
	var first *align.Placed
	bar := progress(s)
	for i, file := range c.Files {
		bar(i, len(c.Files), names[i])
		r := &reports[of[i]]
		r.Photos = append(r.Photos, names[i])
		shot, scale, why, err := c.shot(ctx, file, all[names[i]])
		if err != nil {
			bar(stoppedShort, len(c.Files), "")
			return err
		}
		if r.MMPerPX == nil {
			r.MMPerPX = scale
		}
		if why.IsZero() {
			placed := align.Placed{Landmarks: shot.Landmarks, WidthPX: shot.WidthPX, HeightPX: shot.HeightPX, Facing: shot.Facing}
			if first == nil {
				first = &placed
			} else if res := align.Align(*first, placed); !res.Comparable {
				why = res.Why
			}
		}
		if !why.IsZero() {
			r.LookOnly[names[i]] = s.say.Say(why)
			continue
		}
		shot.Sitting = of[i]
		shots = append(shots, shot)
	}
	bar(len(c.Files), len(c.Files), "")
	fill(s, reports, shots, sittings, readings.Confirmed)
	out := measureReport{sittingReport: reports[len(reports)-1], Sittings: reports}
	if c.JSON {
		return s.json(out)
	}
	out.print(s)
	return nil
}

// groups are the sittings of a readings file, and which of them each photo belongs to; photos of which it says nothing are
// the last sitting.
func groups(r measure.ReadingsFile, names []string) (sittings []measure.Sitting, of []int) {
	of = make([]int, len(names))
	for i := range of {
		of[i] = -1
	}
	for k, f := range r.Sittings {
		s := measure.Sitting{ByHand: map[timeline.Zone]measure.Depth{}}
		for z, h := range f.ByHand {
			s.ByHand[z] = h.Depth()
		}
		sittings = append(sittings, s)
		for i, n := range names {
			if slices.Contains(f.Photos, n) {
				of[i] = k
			}
		}
	}
	if len(sittings) == 0 || slices.Contains(of, -1) {
		sittings = append(sittings, measure.Sitting{})
	}
	for i := range of {
		if of[i] < 0 {
			of[i] = len(sittings) - 1
		}
	}
	return sittings, of
}

// shot is a photo with edge and scale, or why no figure can be read from it.
func (c *measureCmd) shot(ctx context.Context, file string, lm timeline.Landmarks) (shot measure.Shot, scale *scaleReport, why timeline.Phrase, err error) {
	facts, err := inspectFile(ctx, file, imaging.InspectOptions{})
	if err != nil {
		return shot, nil, why, salon.PhotoFault(err, "inspect "+file)
	}
	img, err := decodeFile(ctx, file)
	if err != nil {
		return shot, nil, why, err
	}
	w, h := img.Rect.Dx(), img.Rect.Dy()
	shot = measure.Shot{Landmarks: lm, Facing: align.FacingOf(lm), WidthPX: w, HeightPX: h}
	focal := marker.FocalPX(float64(facts.Focal35MM), w, h)
	if c.MMPerPX > 0 {
		shot.MMPerPX, shot.SDMMPerPX = c.MMPerPX, givenScaleSD*c.MMPerPX
		scale = &scaleReport{Value: shot.MMPerPX, SD: shot.SDMMPerPX, Source: "given"}
	} else if m := marker.Find(img, marker.Options{FocalPX: focal}).Marker; m != nil {
		shot.MMPerPX, shot.SDMMPerPX = m.MMPerPX, m.ScaleSD(marker.OffPlaneSDMM, focal, w, h)
		scale = &scaleReport{Value: shot.MMPerPX, SD: shot.SDMMPerPX, Source: "marker"}
	} else {
		return shot, nil, timeline.Say("measure.no_scale"), nil
	}
	if focal > 0 {
		shot.DistanceMM = focal * shot.MMPerPX
	}
	g, ok := guess.FromLandmarks(lm, shot.Facing, w, h)
	if !ok {
		return shot, scale, timeline.Say("measure.few_points"), nil
	}
	found, err := outline.Find(img, g)
	if err != nil || found.Polygon == nil {
		return shot, scale, timeline.Say("measure.no_edge"), nil
	}
	shot.Outline = outline.Fine(img, found).Polygon
	return shot, scale, why, nil
}

// givenScaleSD is how well a scale is known that somebody gives, as a share of it: a ruler's.
const givenScaleSD = 0.003

// fill measures, and says of every zone a figure or why there is none.
func fill(s streams, reports []sittingReport, shots []measure.Shot, sittings []measure.Sitting, confirmed []timeline.Zone) {
	for i := range shots {
		shots[i].Skip = map[timeline.Zone]bool{}
		for _, z := range measure.Measured() {
			if measure.WantsLook(z) && !slices.Contains(confirmed, z) {
				shots[i].Skip[z] = true
			}
		}
	}
	result, measured := measure.Depths(shots, sittings)
	for k := range reports {
		r := &reports[k]
		var of []measure.Shot
		for _, shot := range shots {
			if shot.Sitting == k {
				of = append(of, shot)
			}
		}
		if shape, ok := measure.Toplines(of); ok {
			r.Topline = &shapeReport{Deviation: []placeReport{}, N: shape.N}
			for _, p := range shape.Places {
				r.Topline.Deviation = append(r.Topline.Deviation, placeReport{p.AtMM, round(p.MM, 2), round(p.SDMM, 2)})
			}
		}
		for _, z := range timeline.Zones() {
			if !z.InOutline() {
				continue
			}
			figure, why := measure.Figure{}, timeline.Phrase{}
			if measured {
				figure, why = result.Tell(k, z, slices.Contains(confirmed, z))
			} else {
				why = timeline.Say("measure.no_photo")
			}
			zone := zoneReport{N: figure.N}
			if why.IsZero() {
				const to90 = 1.2815515655446004 // of the normal distribution
				zone.SD = round(figure.SDMM, 2)
				zone.DepthMM = &distReport{round(figure.MM, 2), round(figure.MM-to90*figure.SDMM, 2), round(figure.MM+to90*figure.SDMM, 2)}
			} else {
				zone.LookOnly = s.say.Say(why)
			}
			r.Zones[z] = zone
		}
	}
}

func (r measureReport) print(s streams) {
	for _, one := range r.Sittings {
		for _, p := range one.Photos {
			if why, ok := one.LookOnly[p]; ok {
				s.printf("%s: %s\n", p, why)
			}
		}
		if t := one.Topline; t != nil {
			low, high := 0.0, 0.0
			for _, p := range t.Deviation {
				low, high = math.Max(low, -p.MM), math.Max(high, p.MM)
			}
			s.printf("%s\n", s.say.T("cmd.measured.topline", "n", t.N, "low", timeline.LengthMM(low), "high", timeline.LengthMM(high)))
		}
		for _, z := range timeline.Zones() {
			if f, ok := one.Zones[z]; ok && f.DepthMM != nil {
				s.printf("%s\n", s.say.T("cmd.measured.zone", "zone", z, "depth", timeline.LengthMM(f.DepthMM.Median), "sd", timeline.LengthMM(f.SD), "n", f.N))
			}
		}
	}
}
