package main

import (
	"context"
	"fmt"
	"io"
	"runtime"
	"slices"
	"sync"
	"time"

	"golang.org/x/sync/errgroup"

	"thatch/imaging"
	"thatch/imaging/align/marker"
	"thatch/server/salon"
	"thatch/timeline"
)

type inspectCmd struct {
	JSON   bool     `name:"json" help:"${cmd_help_json}"`
	Zone   string   `help:"${cmd_help_inspect_zone}" default:"UTC" placeholder:"IANA"`
	Marker bool     `help:"${cmd_help_inspect_marker}"`
	Files  []string `arg:"" name:"file" help:"${cmd_help_files}"`
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
	entries, err := inspectAll(ctx, s, files, imaging.InspectOptions{Zone: zone, Now: time.Now()}, c.Marker)
	if err != nil {
		return err
	}
	if c.JSON {
		err = s.json(entries)
	} else {
		for _, e := range entries {
			printEntry(s, e)
		}
	}
	if err == nil && slices.ContainsFunc(entries, func(e salon.Entry) bool { return e.Error != nil }) {
		err = errSome
	}
	return err
}

// inspectAll looks at the files on all cores at once; the entries come in the order of the files. A file that is refused
// or cannot be read is an entry; the error is the context's alone.
func inspectAll(ctx context.Context, s streams, files []string, opt imaging.InspectOptions, pixels bool) ([]salon.Entry, error) {
	entries := make([]salon.Entry, len(files))
	told := make([][]marker.Told, len(files)) // after the bar, which a line in between would break
	bar := progress(s)
	var lock sync.Mutex // of the bar
	done := 0
	var work errgroup.Group
	work.SetLimit(runtime.GOMAXPROCS(0))
	for i, file := range files {
		if ctx.Err() != nil {
			break
		}
		work.Go(func() error {
			lock.Lock()
			bar(done, len(files), file)
			lock.Unlock()
			facts, err := inspectFile(ctx, file, opt)
			if ctx.Err() != nil {
				return ctx.Err()
			}
			var seen *salon.MarkerReport
			if err == nil && pixels {
				seen, told[i], err = markerIn(ctx, file, facts)
			}
			trouble := ""
			if err != nil {
				trouble = oneLine(s.sentence(salon.PhotoFault(err, "inspect "+file)))
			}
			entries[i] = salon.EntryOf(file, facts, trouble)
			entries[i].Marker = seen
			lock.Lock()
			done++
			lock.Unlock()
			return nil
		})
	}
	err := work.Wait()
	if err == nil {
		err = ctx.Err()
	}
	if err != nil {
		bar(stoppedShort, len(files), "")
		return nil, err
	}
	bar(len(files), len(files), "")
	for i, file := range files {
		for _, t := range told[i] {
			fmt.Fprintf(s.err, "%s: %s\n", printable(file), s.say.Say(t.Say()))
		}
	}
	return entries, nil
}

// markerIn looks for the table marker; what is in its way is told on the side, and is no trouble of the file.
func markerIn(ctx context.Context, file string, facts imaging.Facts) (*salon.MarkerReport, []marker.Told, error) {
	img, err := decodeFile(ctx, file)
	if err != nil {
		return nil, nil, err
	}
	found := marker.Find(img, marker.Options{FocalPX: marker.FocalPX(float64(facts.Focal35MM), facts.WidthPX, facts.HeightPX)})
	if found.Marker == nil {
		return nil, found.Told, nil
	}
	return &salon.MarkerReport{Text: found.Marker.Text.String(), MMPerPX: found.Marker.MMPerPX, CornersPX: found.Marker.CornersPX[:]}, found.Told, nil
}

// inspectFile reads the headers, and hashes the whole in a stream.
func inspectFile(ctx context.Context, file string, opt imaging.InspectOptions) (imaging.Facts, error) {
	f, err := openFile(file)
	if err != nil {
		return imaging.Facts{}, err
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return imaging.Facts{}, err
	}
	facts, refused := imaging.Inspect(f, info.Size(), file, opt)
	sha, n, err := imaging.Hash(untilDone{ctx, io.NewSectionReader(f, 0, info.Size())})
	if err != nil {
		return facts, err
	}
	facts.SHA256, facts.Bytes = sha, n
	return facts, refused
}

// untilDone reads until the context is done: what was named by mistake may be a film of many gigabytes.
type untilDone struct {
	ctx context.Context
	r   io.Reader
}

func (u untilDone) Read(b []byte) (int, error) {
	if err := u.ctx.Err(); err != nil {
		return 0, err
	}
	return u.r.Read(b)
}

func printEntry(s streams, e salon.Entry) {
	if e.Error != nil {
		s.printf("%s: %s\n", printable(e.File), printable(*e.Error))
		return
	}
	taken := s.say.T("source.none")
	if e.TakenAt != nil {
		taken = *e.TakenAt + ", " + s.say.T("source."+e.TakenSource)
	}
	s.printf("%s: %s, %d × %d px, %s", printable(e.File), e.Format, e.WidthPX, e.HeightPX, taken)
	for _, f := range e.Flags {
		s.printf("; %s", s.say.T("flag."+f))
	}
	if e.Marker != nil {
		s.printf("; %s", s.say.T("cmd.marker.found", "scale", round(e.Marker.MMPerPX, 4)))
	}
	if e.Camera != "" {
		s.printf(", %s", e.Camera)
	}
	s.printf("\n")
}
