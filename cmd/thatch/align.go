package main

import (
	"context"
	"image"
	"io"
	"os"
	"path/filepath"

	"thatch/imaging"
	"thatch/imaging/align"
	"thatch/server/salon"
	"thatch/timeline"
)

type alignCmd struct {
	To        string `help:"${cmd_help_align_to}" required:"" placeholder:"REF.jpg" type:"path"`
	Landmarks string `help:"${cmd_help_align_landmarks}" required:"" placeholder:"L.json" type:"path"`
	Out       string `help:"${cmd_help_align_out}" placeholder:"OUT.jpg" type:"path"`
	JSON      bool   `name:"json" help:"${cmd_help_json}"`
	File      string `arg:"" help:"${cmd_help_align_file}" type:"path"`
}

type alignReport struct {
	Mirrored    bool                            `json:"mirrored"`
	Transform   [2][3]float64                   `json:"transform"`
	Parts       map[timeline.Part][2][3]float64 `json:"parts"`
	Scale       float64                         `json:"scale"`
	RotationDeg float64                         `json:"rotation_deg"`
	RMSPX       float64                         `json:"rms_px"`
	ResidualsPX map[timeline.Point]float64      `json:"residuals_px"`
	Comparable  bool                            `json:"comparable"`
	Why         string                          `json:"why"`
}

func (c *alignCmd) Run(ctx context.Context, s streams) error {
	all, err := readFrom(c.Landmarks, align.ReadLandmarks)
	if err != nil {
		return err
	}
	ref, err := placed(ctx, c.To, all)
	if err != nil {
		return err
	}
	photo, err := placed(ctx, c.File, all)
	if err != nil {
		return err
	}
	res := align.Align(ref, photo)
	if c.Out != "" {
		img, err := decodeFile(ctx, c.File)
		if err != nil {
			return err
		}
		if err := writeJPEG(c.Out, align.Warp(img, res.Transform, res.Mirrored, ref.WidthPX, ref.HeightPX)); err != nil {
			return err
		}
	}
	r := alignReport{
		Mirrored: res.Mirrored, Transform: matrix(res.Transform), Parts: map[timeline.Part][2][3]float64{}, Scale: res.ScaleRatio,
		RotationDeg: res.RotationDeg, RMSPX: res.RMSPX, ResidualsPX: res.ResidualsPX, Comparable: res.Comparable,
	}
	for part, t := range res.Parts {
		r.Parts[part] = matrix(t)
	}
	if !res.Why.IsZero() {
		r.Why = s.say.Say(res.Why)
	}
	if c.JSON {
		return s.json(r)
	}
	s.printf("%s\n", s.say.T("cmd.aligned", "scale", round(r.Scale, 4), "deg", round(r.RotationDeg, 2), "rms", round(r.RMSPX, 2)))
	if r.Why != "" {
		s.printf("%s\n", r.Why)
	}
	return nil
}

func matrix(t align.Similarity) [2][3]float64 {
	return [2][3]float64{{t.A, -t.B, t.TX}, {t.B, t.A, t.TY}}
}

// placed is a photo with its points; the landmarks file names it by its base name.
func placed(ctx context.Context, file string, all map[string]timeline.Landmarks) (align.Placed, error) {
	facts, err := inspectFile(ctx, file, imaging.InspectOptions{})
	if err != nil {
		return align.Placed{}, salon.PhotoFault(err, "inspect "+file)
	}
	lm, ok := all[filepath.Base(file)]
	if !ok {
		return align.Placed{}, timeline.NewFault(timeline.Invalid, "fault.cmd.no_landmarks", "file", filepath.Base(file)).In("landmarks")
	}
	return align.Placed{Landmarks: lm, WidthPX: facts.WidthPX, HeightPX: facts.HeightPX}, nil
}

func decodeFile(ctx context.Context, file string) (*image.NRGBA, error) {
	f, err := os.Open(file)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return nil, err
	}
	facts, err := imaging.Inspect(f, info.Size(), file, imaging.InspectOptions{})
	if err != nil {
		return nil, salon.PhotoFault(err, "inspect "+file)
	}
	img, err := imaging.Decode(ctx, f, info.Size(), facts)
	if err != nil {
		return nil, salon.PhotoFault(err, "decode "+file)
	}
	return img, nil
}

// readFrom reads a file of points.
func readFrom[T any](name string, read func(io.Reader) (T, error)) (T, error) {
	f, err := os.Open(name)
	if err != nil {
		var none T
		return none, timeline.NewFault(timeline.NotFound, "fault.cmd.no_file", "file", name).Because(err)
	}
	defer f.Close()
	return read(f)
}

func writeJPEG(name string, img *image.NRGBA) error {
	const quality = 92
	return writeWhole(name, func(f *os.File) error { return imaging.EncodeJPEG(f, img, quality) })
}

// writeWhole leaves either the whole file or nothing.
func writeWhole(name string, write func(*os.File) error) error {
	tmp, err := os.CreateTemp(filepath.Dir(name), ".thatch-*")
	if err != nil {
		return timeline.NewFault(timeline.Invalid, "fault.cmd.cannot_write", "file", name).Because(err)
	}
	defer os.Remove(tmp.Name())
	err = write(tmp)
	if shut := tmp.Close(); err == nil {
		err = shut
	}
	if err == nil {
		err = os.Rename(tmp.Name(), name)
	}
	return err
}
