package main

import (
	"context"
	"image"
	"image/png"
	"math"
	"os"
	"path/filepath"
	"time"

	"thatch/imaging/align"
	"thatch/imaging/outline"
	"thatch/timeline"
)

type outlineCmd struct {
	Points    string `help:"${cmd_help_outline_points}" required:"" placeholder:"P.json" type:"path"`
	Landmarks string `help:"${cmd_help_outline_landmarks}" placeholder:"L.json" type:"path"`
	Mask      string `help:"${cmd_help_outline_mask}" placeholder:"OUT.png" type:"path"`
	JSON      bool   `name:"json" help:"${cmd_help_json}"`
	File      string `arg:"" help:"${cmd_help_align_file}" type:"path"`
}

type outlineReport struct {
	WidthPX      int            `json:"width_px"`
	HeightPX     int            `json:"height_px"`
	Polygon      []timeline.XY  `json:"polygon_px"`
	Method       string         `json:"method"`
	Topline      *toplineReport `json:"topline"`
	Milliseconds float64        `json:"ms"`
}

type toplineReport struct {
	From      timeline.XY `json:"from"`
	To        timeline.XY `json:"to"`
	MaxLowPX  float64     `json:"max_low_px"`
	MaxHighPX float64     `json:"max_high_px"`
}

func (c *outlineCmd) Run(ctx context.Context, s streams) error {
	name := filepath.Base(c.File)
	points, err := readFrom(c.Points, outline.ReadPoints)
	if err != nil {
		return err
	}
	polygon, ok := points[name]
	if !ok {
		return timeline.NewFault(timeline.Invalid, "fault.cmd.no_points", "file", name).In("points")
	}
	var marks timeline.Landmarks
	if c.Landmarks != "" {
		all, err := readFrom(c.Landmarks, align.ReadLandmarks)
		if err != nil {
			return err
		}
		if marks, ok = all[name]; !ok {
			return timeline.NewFault(timeline.Invalid, "fault.cmd.no_landmarks", "file", name).In("landmarks")
		}
	}
	img, err := decodeFile(ctx, c.File)
	if err != nil {
		return err
	}
	began := time.Now()
	found, err := outline.Find(img, outline.PointsGuess(polygon))
	if err != nil {
		return err
	}
	r := outlineReport{
		WidthPX: found.WidthPX, HeightPX: found.HeightPX, Polygon: found.Polygon, Method: found.Method,
		Milliseconds: math.Round(float64(time.Since(began).Microseconds())/100) / 10,
	}
	if r.Polygon == nil {
		r.Polygon = []timeline.XY{}
	}
	if t, ok := found.Topline(marks); ok {
		r.Topline = &toplineReport{t.From, t.To, t.MaxLowPX, t.MaxHighPX}
	}
	if c.Mask != "" {
		if err := writeMask(c.Mask, found); err != nil {
			return err
		}
	}
	if c.JSON {
		return s.json(r)
	}
	s.printf("%s\n", s.say.T("cmd.outlined", "n", len(r.Polygon), "file", name))
	if r.Topline != nil {
		s.printf("%s\n", s.say.T("cmd.outlined.topline", "low", round(r.Topline.MaxLowPX, 1), "high", round(r.Topline.MaxHighPX, 1)))
	}
	return nil
}

// writeMask writes the dog as white on black, of the photo's size.
func writeMask(name string, r outline.Result) error {
	img := image.NewGray(image.Rect(0, 0, r.WidthPX, r.HeightPX))
	for i, dog := range r.Mask() {
		if dog {
			img.Pix[i] = 255
		}
	}
	return writeWhole(name, func(f *os.File) error { return png.Encode(f, img) })
}
