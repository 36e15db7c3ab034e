package main

import (
	"context"
	"fmt"
	"image"
	"image/png"
	"io"
	"math"
	"os"
	"path/filepath"
	"time"

	"thatch/imaging/align"
	"thatch/imaging/outline"
	"thatch/imaging/outline/guess"
	"thatch/timeline"
)

type outlineCmd struct {
	Points    string `help:"${cmd_help_outline_points}" placeholder:"P.json" type:"path"`
	Landmarks string `help:"${cmd_help_outline_landmarks}" placeholder:"L.json" type:"path"`
	Empty     string `help:"${cmd_help_outline_empty}" placeholder:"EMPTY.jpg" type:"path"`
	Strokes   string `help:"${cmd_help_outline_strokes}" placeholder:"S.json" type:"path"`
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
	polygon, err := ofPhoto(c.Points, name, outline.ReadPoints, "fault.cmd.no_points", "points")
	if err != nil {
		return err
	}
	marks, err := ofPhoto(c.Landmarks, name, align.ReadLandmarks, "fault.cmd.no_landmarks", "landmarks")
	if err != nil {
		return err
	}
	strokes, err := ofPhoto(c.Strokes, name, outline.ReadStrokes, "fault.cmd.no_strokes", "strokes")
	if err != nil {
		return err
	}
	img, err := decodeFile(ctx, c.File)
	if err != nil {
		return err
	}
	var empty *image.NRGBA
	if c.Empty != "" {
		if empty, err = decodeFile(ctx, c.Empty); err != nil {
			return err
		}
	}
	began := time.Now()
	first, ok := c.guess(img, polygon, marks)
	if !ok {
		return timeline.NewFault(timeline.Invalid, "fault.cmd.no_dog", "file", name).In("points")
	}
	first.Empty = empty
	found, err := outline.Find(img, first)
	if err != nil {
		return err
	}
	if empty != nil && !found.EmptySays {
		fmt.Fprintln(s.err, s.say.T("cmd.outlined.empty_alone", "file", filepath.Base(c.Empty)))
	}
	if len(strokes) > 0 {
		if found, err = outline.Correct(img, found, strokes); err != nil {
			return err
		}
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

// guess is where the edge may run, by the best of what is known.
func (c *outlineCmd) guess(img *image.NRGBA, polygon []timeline.XY, marks timeline.Landmarks) (outline.Guess, bool) {
	if c.Points != "" {
		return outline.PointsGuess(polygon), true
	}
	if c.Landmarks != "" {
		if g, ok := guess.FromLandmarks(marks, align.FacingOf(marks), img.Rect.Dx(), img.Rect.Dy()); ok {
			return g, true
		}
	}
	g, _, ok := guess.Auto(img)
	return g, ok
}

// ofPhoto is what a file says of one photo; nothing where no file is named. The fault's key is none where it says nothing.
func ofPhoto[T any](file, photo string, read func(io.Reader) (map[string]T, error), none, field string) (of T, err error) {
	if file == "" {
		return of, nil
	}
	all, err := readFrom(file, read)
	if err != nil {
		return of, err
	}
	of, ok := all[photo]
	if !ok {
		return of, timeline.NewFault(timeline.Invalid, none, "file", photo).In(field)
	}
	return of, nil
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
