package main

import (
	"context"
	"io"
	"time"

	"thatch/imaging"
	"thatch/server/salon"
	"thatch/timeline"
)

type inspectCmd struct {
	JSON  bool     `name:"json" help:"${cmd_help_json}"`
	Zone  string   `help:"${cmd_help_inspect_zone}" default:"UTC" placeholder:"IANA"`
	Files []string `arg:"" name:"file" help:"${cmd_help_files}" type:"path"`
}

func (c *inspectCmd) Run(ctx context.Context, s streams) error {
	zone, err := time.LoadLocation(c.Zone)
	if err != nil || c.Zone == "Local" {
		return timeline.NewFault(timeline.Invalid, "fault.settings.zone", "text", c.Zone).In("zone").Because(err)
	}
	files, err := photoFiles(c.Files)
	if err != nil {
		return err
	}
	entries := make([]salon.Entry, 0, len(files))
	bar := progress(s)
	refused := false
	for i, file := range files {
		if err := ctx.Err(); err != nil {
			return err
		}
		bar(i, len(files), file)
		facts, err := inspectFile(file, zone)
		trouble := ""
		if err != nil {
			refused, trouble = true, oneLine(s.sentence(salon.PhotoFault(err, "inspect "+file)))
		}
		entries = append(entries, salon.EntryOf(file, facts, trouble))
	}
	bar(len(files), len(files), "")
	if c.JSON {
		err = s.json(entries)
	} else {
		for _, e := range entries {
			printEntry(s, e)
		}
	}
	if err == nil && refused {
		err = errSome
	}
	return err
}

func inspectFile(file string, zone *time.Location) (imaging.Facts, error) {
	f, err := openFile(file)
	if err != nil {
		return imaging.Facts{}, err
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return imaging.Facts{}, err
	}
	facts, refused := imaging.Inspect(f, info.Size(), file, imaging.InspectOptions{Zone: zone, Now: time.Now()})
	sha, n, err := imaging.Hash(io.NewSectionReader(f, 0, info.Size()))
	if err != nil {
		return facts, err
	}
	facts.SHA256, facts.Bytes = sha, n
	return facts, refused
}

func printEntry(s streams, e salon.Entry) {
	if e.Error != nil {
		s.printf("%s: %s\n", e.File, *e.Error)
		return
	}
	taken := s.say.T("source.none")
	if e.TakenAt != nil {
		taken = *e.TakenAt + ", " + s.say.T("source."+e.TakenSource)
	}
	s.printf("%s: %s, %d × %d px, %s", e.File, e.Format, e.WidthPX, e.HeightPX, taken)
	for _, f := range e.Flags {
		s.printf("; %s", s.say.T("flag."+f))
	}
	if e.Camera != "" {
		s.printf(", %s", e.Camera)
	}
	s.printf("\n")
}
