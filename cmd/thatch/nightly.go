package main

import (
	"context"
	"log/slog"

	"thatch/server/backups"
	"thatch/server/salon"
)

// nightlyFlags are where the salon is copied every night, and when.
type nightlyFlags struct {
	BackupDir  string `name:"backup-dir" help:"${cmd_help_serve_backup_dir}" placeholder:"DIR" type:"path"`
	BackupHour int    `name:"backup-hour" help:"${cmd_help_serve_backup_hour}" default:"3" placeholder:"HOUR"`
}

func (f nightlyFlags) plan() salon.BackupPlan {
	return salon.BackupPlan{Dest: f.BackupDir, Hour: f.BackupHour, Program: programVersion()}
}

// keepBackups makes them until stop is called.
func keepBackups(ctx context.Context, sal *salon.Salon, log *slog.Logger) (stop func()) {
	return backups.Start(ctx, sal, backups.Options{Log: log}).Stop
}
