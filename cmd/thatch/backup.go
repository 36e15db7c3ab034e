package main

import (
	"context"
	"time"

	"thatch/server/salon"
	"thatch/store"
	"thatch/timeline"
)

type backupCmd struct {
	dataFlag
	Prune bool   `help:"${cmd_help_backup_prune}"`
	JSON  bool   `name:"json" help:"${cmd_help_json}"`
	Dest  string `arg:"" help:"${cmd_help_backup_dest}" type:"path"`
}

type backupDocument struct {
	Dest        string   `json:"dest"`
	Snapshot    string   `json:"snapshot"`
	MadeAt      string   `json:"made_at"`
	Photos      int      `json:"photos"`
	Bytes       int64    `json:"bytes"`
	Copied      int      `json:"copied"`
	CopiedBytes int64    `json:"copied_bytes"`
	Damaged     []found  `json:"damaged"`
	Lost        int      `json:"lost"`
	Pruned      []string `json:"pruned"`
}

func (c *backupCmd) Run(ctx context.Context, s streams) error {
	rep, err := salon.Backup(ctx, c.folder(), c.Dest, store.BackupOptions{Program: programVersion(), Prune: c.Prune, Progress: progress(s)})
	if err != nil {
		return err
	}
	if c.JSON {
		err = s.json(backupDocument{rep.Dest, rep.Snapshot, rep.MadeAt.Format(time.RFC3339), rep.Photos, rep.Bytes, rep.Copied, rep.CopyBytes, s.found(rep.Damaged), rep.Lost, rep.Pruned})
	} else {
		for _, f := range s.found(rep.Damaged) {
			s.printf("%s: %s\n", f.File, f.Is)
		}
		s.printf("%s\n", s.say.T("cmd.backup.done", "dest", rep.Dest, "photos", timeline.Say("cmd.photos", "n", rep.Photos), "copied", rep.Copied, "mb", megabytes(rep.CopyBytes)))
		if n := len(rep.Pruned); n > 0 {
			s.printf("%s\n", s.say.T("cmd.backup.pruned", "n", n))
		}
		if n := len(rep.Damaged); n > 0 {
			s.printf("%s\n", s.say.T("cmd.backup.damaged", "n", n, "lost", rep.Lost))
		}
	}
	if err == nil && len(rep.Damaged) > 0 {
		err = errSome
	}
	return err
}

func megabytes(n int64) int { return int((n + 1<<19) >> 20) }
