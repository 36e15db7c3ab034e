package main

import (
	"context"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"thatch/server/salon"
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
	sheet := salon.MarkerSheet{SizeMM: c.SizeMM, Paper: strings.ToLower(c.Paper), Format: strings.TrimPrefix(strings.ToLower(filepath.Ext(c.Out)), ".")}
	if !slices.Contains(salon.MarkerFormats(), sheet.Format) {
		return timeline.NewFault(timeline.Invalid, "fault.cmd.marker_out", "file", filepath.Base(c.Out)).In("out")
	}
	if !slices.Contains(salon.MarkerPapers(), sheet.Paper) {
		return timeline.NewFault(timeline.Invalid, "fault.cmd.marker_paper").In("paper")
	}
	if c.Dog != "" {
		st, sal, err := c.open(ctx, true)
		if err != nil {
			return err
		}
		defer st.Close()
		if sheet.Dog, err = sal.FindDog(ctx, c.Dog); err != nil {
			return err
		}
	}
	if err := sheet.Check(); err != nil {
		return err
	}
	if err := writeWhole(c.Out, func(f *os.File) error { return sheet.Write(f, s.say) }); err != nil {
		return err
	}
	s.printf("%s\n", s.say.T("cmd.marker.written", "file", filepath.Base(c.Out), "n", c.SizeMM))
	return nil
}
