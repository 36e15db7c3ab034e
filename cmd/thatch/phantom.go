package main

import (
	"bytes"
	"context"
	"encoding/json"
	"iter"
	"os"
	"path/filepath"
	"slices"
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
	Movement string `help:"${cmd_help_phantom_movement}" placeholder:"rigid|standing"`
}

// phantomTruth is one picture in truth.json. Lengths mm, places px of the picture.
type phantomTruth struct {
	Dog       int                       `json:"dog"`
	Session   int                       `json:"session"`
	Day       int                       `json:"day"` // after the dog's first
	MMPerPX   float64                   `json:"mm_per_px"`
	FocalPX   float64                   `json:"focal_px"` // 0: orthographic
	RollDeg   float64                   `json:"roll_deg"`
	YawDeg    float64                   `json:"yaw_deg"`
	PitchDeg  float64                   `json:"pitch_deg"`
	Facing    timeline.Side             `json:"facing"`
	WithersMM float64                   `json:"withers_mm"`
	DepthMM   map[timeline.Zone]float64 `json:"depth_mm"`
	ChangeMM  map[timeline.Zone]float64 `json:"change_mm"` // of the depth since the session before; empty where none is told
	Crossed   map[timeline.Zone]string  `json:"crossed"`
	Skin      timeline.Landmarks        `json:"skin_landmarks_px"`
	SkinLine  []timeline.XY             `json:"skin_line_px"`
	SkinZones []timeline.Zone           `json:"skin_zones"`
	Depths    []float64                 `json:"depths_mm"` // of each vertex of the skin line
	Shown     []bool                    `json:"shown"`
	Outline   []timeline.XY             `json:"outline_px"`
	Zones     []timeline.Zone           `json:"outline_zones"`
}

// shots are the pictures to draw and by how much the coat has changed since the session before.
func (c *phantomCmd) shots() iter.Seq2[phantom.Shot, map[timeline.Zone]float64] {
	return func(yield func(phantom.Shot, map[timeline.Zone]float64) bool) {
		if c.Movement == "" {
			for shot := range phantom.Sample(c.Seed, c.Dogs, c.Sessions, c.Photos) {
				if !yield(shot, map[timeline.Zone]float64{}) {
					return
				}
			}
			return
		}
		for s := range phantom.SittingsOf(c.Seed, c.Dogs, c.Sessions, c.Photos, phantom.Movement(c.Movement)) {
			change := s.ChangeMM
			if change == nil {
				change = map[timeline.Zone]float64{}
			}
			for _, shot := range s.Shots {
				if !yield(shot, change) {
					return
				}
			}
		}
	}
}

func (c *phantomCmd) Run(ctx context.Context, s streams) error {
	const most = 1000
	if c.Dogs < 1 || c.Sessions < 1 || c.Photos < 1 || c.Dogs*c.Sessions*c.Photos > most || c.Dogs > most || c.Sessions > most || c.Photos > most {
		return timeline.NewFault(timeline.Invalid, "fault.cmd.phantom_count", "most", most)
	}
	if c.Movement != "" && !slices.Contains(phantom.Movements(), phantom.Movement(c.Movement)) {
		return timeline.NewFault(timeline.Invalid, "fault.cmd.phantom_movement")
	}
	if err := os.MkdirAll(c.Out, 0o755); err != nil {
		return timeline.NewFault(timeline.Invalid, "fault.cmd.cannot_write", "file", c.Out).Because(err)
	}
	// A year ago at nine: a fixed day, so that the same seed gives the same files.
	first := time.Date(2025, 3, 3, 9, 0, 0, 0, time.UTC)
	points, truths := map[string]timeline.Landmarks{}, map[string]phantomTruth{}
	bar := progress(s)
	done, total := 0, c.Dogs*c.Sessions*c.Photos
	for shot, change := range c.shots() {
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
		truths[shot.Name] = phantomTruth{
			Dog: shot.DogIndex + 1, Session: shot.Session + 1, Day: shot.DayOffset,
			MMPerPX: t.MMPerPX, FocalPX: t.FocalPX, RollDeg: t.RollDeg, YawDeg: t.YawDeg, PitchDeg: t.PitchDeg,
			Facing: t.Facing, WithersMM: t.WithersMM, DepthMM: t.DepthMM, ChangeMM: change, Crossed: t.Crossed, Skin: t.SkinLandmarks,
			SkinLine: t.SkinLine, SkinZones: t.SkinZones, Depths: t.Depths, Shown: t.Shown, Outline: t.Outline, Zones: t.OutlineZones,
		}
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
