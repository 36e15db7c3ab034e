package main

import (
	"context"

	"thatch/server/salon"
	"thatch/store"
	"thatch/timeline"
)

type verifyCmd struct {
	dataFlag
	JSON bool `name:"json" help:"${cmd_help_json}"`
}

// found is a file that something is said of.
type found struct {
	File string `json:"file"`
	Is   string `json:"is"`
}

type verifyDocument struct {
	Dir       string  `json:"dir"`
	Of        string  `json:"of"`
	Whole     bool    `json:"whole"`
	Originals int     `json:"originals"`
	Bytes     int64   `json:"bytes"`
	Derived   int     `json:"derived"`
	Snapshots int     `json:"snapshots"`
	Damage    []found `json:"damage"`
	Notes     []found `json:"notes"`
}

func (c *verifyCmd) Run(ctx context.Context, s streams) error {
	rep, err := salon.Verify(ctx, c.folder(), progress(s))
	if err != nil {
		return err
	}
	if c.JSON {
		err = s.json(verifyDocument{c.folder(), rep.Of, len(rep.Damage) == 0, rep.Originals, rep.Bytes, rep.Derived, rep.Snapshots, s.found(rep.Damage), s.found(rep.Notes)})
	} else {
		c.print(s, rep)
	}
	if err == nil && len(rep.Damage) > 0 {
		err = errSome
	}
	return err
}

func (c *verifyCmd) print(s streams, rep store.VerifyReport) {
	for _, list := range [][]store.Finding{rep.Notes, rep.Damage} {
		for _, f := range s.found(list) {
			s.printf("%s: %s\n", f.File, f.Is)
		}
	}
	photos := timeline.Say("cmd.photos", "n", rep.Originals)
	switch {
	case len(rep.Damage) > 0:
		s.printf("%s\n", s.say.T("cmd.verify.damaged", "n", len(rep.Damage), "dir", c.folder()))
	case rep.Of == store.OfSalon:
		s.printf("%s\n", s.say.T("cmd.verify.whole", "dir", c.folder(), "photos", photos, "pictures", timeline.Say("cmd.pictures", "n", rep.Derived)))
	default:
		s.printf("%s\n", s.say.T("cmd.verify.whole_backup", "dir", c.folder(), "photos", photos, "snapshots", timeline.Say("cmd.snapshots", "n", rep.Snapshots)))
	}
}

func (s streams) found(list []store.Finding) []found {
	out := make([]found, len(list))
	for i, f := range list {
		out[i] = found{printable(f.File), oneLine(s.say.Say(f.Say))}
	}
	return out
}
