package main

import (
	"context"
	"fmt"
	"time"

	"thatch/server/salon"
	"thatch/store"
	"thatch/timeline"
)

type restoreCmd struct {
	Data           string `help:"${cmd_help_restore_data}" required:"" placeholder:"NEWDIR" type:"path"`
	Snapshot       string `help:"${cmd_help_restore_snapshot}" placeholder:"NAME"`
	WithoutDamaged bool   `help:"${cmd_help_restore_without}"`
	JSON           bool   `name:"json" help:"${cmd_help_json}"`
	Src            string `arg:"" help:"${cmd_help_restore_src}" type:"path"`
}

type restoreDocument struct {
	Dir         string   `json:"dir"`
	Snapshot    string   `json:"snapshot"`
	MadeAt      string   `json:"made_at"`
	Photos      int      `json:"photos"`
	Bytes       int64    `json:"bytes"`
	Lost        []string `json:"lost"`
	Damaged     []string `json:"damaged"`
	Interrupted []string `json:"interrupted"`
}

func (c *restoreCmd) Run(ctx context.Context, s streams) error {
	rep, err := salon.Restore(ctx, c.Src, c.Data, store.RestoreOptions{Snapshot: c.Snapshot, WithoutDamaged: c.WithoutDamaged, Progress: progress(s)})
	if err != nil {
		for _, name := range rep.Damaged {
			fmt.Fprintln(s.err, name)
		}
		return err
	}
	if c.JSON {
		err = s.json(restoreDocument{c.Data, rep.Snapshot, rep.MadeAt.Format(time.RFC3339), rep.Photos, rep.Bytes, rep.Lost, rep.Damaged, rep.Interrupted})
	} else {
		for _, name := range rep.Interrupted {
			s.printf("%s\n", s.say.T("cmd.restore.interrupted", "name", name))
		}
		for _, name := range rep.Lost {
			s.printf("%s: %s\n", name, s.say.T("cmd.restore.lost"))
		}
		for _, name := range rep.Damaged {
			s.printf("%s: %s\n", name, s.say.T("cmd.restore.damaged"))
		}
		s.printf("%s\n", s.say.T("cmd.restore.done", "dir", c.Data, "at", rep.MadeAt.Format(time.RFC3339), "photos", timeline.Say("cmd.photos", "n", rep.Photos)))
		s.printf("%s\n", s.say.T("cmd.restore.again"))
	}
	if err == nil && len(rep.Lost)+len(rep.Damaged) > 0 {
		err = errSome
	}
	return err
}
