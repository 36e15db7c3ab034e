package main

import (
	"context"
	"io"
	"os"
	"path/filepath"
	"strings"

	"thatch/imaging/align/marker"
	"thatch/timeline"
)

type markerCmd struct {
	Out string `help:"${cmd_help_marker_out}" required:"" placeholder:"marker.pdf" type:"path"`
	dataFlag
	Dog    string `help:"${cmd_help_marker_dog}" placeholder:"NAME"`
	SizeMM int    `name:"size-mm" help:"${cmd_help_marker_size}" default:"80" placeholder:"N"`
	Paper  string `help:"${cmd_help_marker_paper}" default:"a4" placeholder:"a4|letter"`
}

func (c *markerCmd) Run(ctx context.Context, s streams) error {
	write := map[string]func(io.Writer, marker.Text, marker.Paper, marker.Labels) error{".pdf": marker.WritePDF, ".png": marker.WritePNG}[strings.ToLower(filepath.Ext(c.Out))]
	if write == nil {
		return timeline.NewFault(timeline.Invalid, "fault.cmd.marker_out", "file", filepath.Base(c.Out)).In("out")
	}
	paper, ok := map[string]marker.Paper{"a4": marker.A4, "letter": marker.Letter}[strings.ToLower(c.Paper)]
	if !ok {
		return timeline.NewFault(timeline.Invalid, "fault.cmd.marker_paper").In("paper")
	}
	labels := marker.Labels{
		Title: s.say.T("marker.sheet.title"), Name: s.say.T("marker.sheet.salon"), Foot: s.say.T("marker.sheet.foot"), Ruler: s.say.T("marker.sheet.ruler"),
		Steps: []string{s.say.T("marker.sheet.step.print"), s.say.T("marker.sheet.step.cut"), s.say.T("marker.sheet.step.stand"), s.say.T("marker.sheet.step.light")},
	}
	text := marker.Text{SizeMM: c.SizeMM}
	if c.Dog != "" {
		st, sal, err := c.open(ctx, true)
		if err != nil {
			return err
		}
		defer st.Close()
		d, err := sal.FindDog(ctx, c.Dog)
		if err != nil {
			return err
		}
		text.Dog, labels.Name = d.ID, d.Name
	}
	if err := text.Check(); err != nil {
		return err
	}
	if err := writeWhole(c.Out, func(f *os.File) error { return write(f, text, paper, labels) }); err != nil {
		return err
	}
	s.printf("%s\n", s.say.T("cmd.marker.written", "file", filepath.Base(c.Out), "n", c.SizeMM))
	return nil
}
