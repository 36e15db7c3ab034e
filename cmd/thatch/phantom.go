package main

import (
	"bytes"
	"context"
	"encoding/json"
	"os"
	"path/filepath"
	"time"

	"thatch/imaging"
	"thatch/imaging/phantom"
	"thatch/timeline"
)

type phantomCmd struct {
	Out      string `help:"${cmd_help_phantom_out}" required:"" placeholder:"DIR" type:"path"`
	Seed     int64  `help:"${cmd_help_phantom_seed}" default:"1" placeholder:"N"`
	Dogs     int    `help:"${cmd_help_phantom_dogs}" default:"1" placeholder:"D"`
	Sessions int    `help:"${cmd_help_phantom_sessions}" default:"3" placeholder:"K"`
	Photos   int    `help:"${cmd_help_phantom_photos}" default:"2" placeholder:"P"`
}

// phantomTruth is one picture in truth.json. Lengths mm, places px of the picture.
type phantomTruth struct {
	Dog       int                       `json:"dog"`
	Session   int                       `json:"session"`
	MMPerPX   float64                   `json:"mm_per_px"`
	RollDeg   float64                   `json:"roll_deg"`
	Facing    timeline.Side             `json:"facing"`
	WithersMM float64                   `json:"withers_mm"`
	DepthMM   map[timeline.Zone]float64 `json:"depth_mm"`
	SkinLine  []timeline.XY             `json:"skin_line_px"`
	Outline   []timeline.XY             `json:"outline_px"`
}

func (c *phantomCmd) Run(ctx context.Context, s streams) error {
	const most = 1000
	if c.Dogs < 1 || c.Sessions < 1 || c.Photos < 1 || c.Dogs*c.Sessions*c.Photos > most || c.Dogs > most || c.Sessions > most || c.Photos > most {
		return timeline.NewFault(timeline.Invalid, "fault.cmd.phantom_count", "most", most)
	}
	if err := os.MkdirAll(c.Out, 0o755); err != nil {
		return timeline.NewFault(timeline.Invalid, "fault.cmd.cannot_write", "file", c.Out).Because(err)
	}
	// A year ago at nine: a fixed day, so that the same seed gives the same files.
	first := time.Date(2025, 3, 3, 9, 0, 0, 0, time.UTC)
	points, truths := map[string]timeline.Landmarks{}, map[string]phantomTruth{}
	bar := progress(s)
	done, total := 0, c.Dogs*c.Sessions*c.Photos
	for shot := range phantom.Sample(c.Seed, c.Dogs, c.Sessions, c.Photos) {
		if err := ctx.Err(); err != nil {
			return err
		}
		bar(done, total, shot.Name)
		done++
		img, t := shot.Render()
		var b bytes.Buffer
		const quality = 90
		if err := imaging.EncodeJPEG(&b, img, quality); err != nil {
			return err
		}
		taken := first.AddDate(0, 0, shot.DayOffset).Add(time.Duration(shot.Photo) * time.Minute)
		jpeg, err := imaging.InsertEXIF(b.Bytes(), imaging.EXIFFields{TakenLocal: taken, Offset: "+00:00", Make: "Invented", Model: "Phantom"})
		if err != nil {
			return err
		}
		if err := os.WriteFile(filepath.Join(c.Out, shot.Name), jpeg, 0o644); err != nil {
			return err
		}
		points[shot.Name] = t.Landmarks
		truths[shot.Name] = phantomTruth{shot.DogIndex + 1, shot.Session + 1, t.MMPerPX, t.RollDeg, t.Facing, t.WithersMM, t.DepthMM, t.SkinLine, t.Outline}
	}
	bar(total, total, "")
	var b bytes.Buffer
	if err := phantom.WriteLandmarks(&b, points); err != nil {
		return err
	}
	if err := os.WriteFile(filepath.Join(c.Out, "landmarks.json"), b.Bytes(), 0o644); err != nil {
		return err
	}
	doc, err := json.MarshalIndent(truths, "", " ")
	if err != nil {
		return err
	}
	return os.WriteFile(filepath.Join(c.Out, "truth.json"), doc, 0o644)
}
