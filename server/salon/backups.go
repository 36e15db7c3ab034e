package salon

import (
	"context"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"sync"
	"time"

	"thatch/store"
	"thatch/timeline"
)

// BackupPlan is where and when the salon is copied every night; where is said at the start of the program, never on a page:
// a page that writes anywhere on the machine would be a door.
type BackupPlan struct {
	Dest    string // a folder; "": nowhere
	Hour    int    // of the night, in the salon's zone
	Program string // who makes it, for the manifest
}

// BackupState is what the settings page tells.
type BackupState struct {
	Plan    BackupPlan
	Running bool
	Last    *store.BackupRun // nil: none yet
	Good    *store.BackupRun // the last one that is a backup; nil: none yet
	Late    bool             // the last good one is older than two days
	Next    time.Time        // when the next one is due
}

// backups is the salon's side of the schedule.
type backups struct {
	mu      sync.Mutex
	plan    BackupPlan
	running bool
}

// lateAfter is when the settings page says that backups are missing.
const lateAfter = 48 * time.Hour

// Check refuses a plan that can never be kept, before anything is done; dataDir is the salon's folder.
func (p BackupPlan) Check(dataDir string) error {
	switch {
	case p.Hour < 0 || p.Hour > 23:
		return invalid("backup-hour", "fault.backup.hour")
	case p.Dest == "":
		return nil
	case store.IsBackupFile(p.Dest):
		return invalid("backup-dir", "fault.backup.nightly_file", "dest", p.Dest)
	}
	return store.CheckBackupDest(dataDir, p.Dest)
}

// PlanBackups says where to and when; it is called once, before the salon is served.
func (s *Salon) PlanBackups(p BackupPlan) error {
	if err := p.Check(s.st.Dir()); err != nil {
		return err
	}
	if p.Dest != "" {
		abs, err := filepath.Abs(p.Dest)
		if err != nil {
			return err
		}
		p.Dest = abs
	}
	s.backups.mu.Lock()
	defer s.backups.mu.Unlock()
	s.backups.plan = p
	return nil
}

func (s *Salon) backupPlan() (BackupPlan, bool) {
	s.backups.mu.Lock()
	defer s.backups.mu.Unlock()
	return s.backups.plan, s.backups.running
}

// Backups is how it stands with them.
func (s *Salon) Backups(ctx context.Context) (v BackupState, err error) {
	v.Plan, v.Running = s.backupPlan()
	if v.Plan.Dest == "" {
		return v, nil
	}
	if v.Last, v.Good, err = s.st.LastBackups(ctx, v.Plan.Dest); err != nil {
		return v, err
	}
	zone, err := s.Zone(ctx)
	if err != nil {
		return v, err
	}
	now := s.now()
	last := time.Time{}
	if v.Good != nil {
		last = v.Good.Begun
	}
	v.Next = nextBackup(last, now, v.Plan.Hour, zone)
	v.Late = v.Good != nil && now.Sub(last) > lateAfter
	return v, nil
}

// nextBackup is when one is due after the last good one: at once where the hour has passed since, else at the hour.
func nextBackup(last, now time.Time, hour int, zone *time.Location) time.Time {
	local := now.In(zone)
	at := func(days int) time.Time {
		return time.Date(local.Year(), local.Month(), local.Day()+days, hour, 0, 0, 0, zone)
	}
	slot := at(0)
	if slot.After(now) {
		slot = at(-1)
	}
	if last.Before(slot) {
		return now
	}
	if next := at(0); next.After(now) {
		return next
	}
	return at(1)
}

// BackupNow makes the night's backup and remembers how it went. One that was stopped with the program is not remembered: it
// is due again.
func (s *Salon) BackupNow(ctx context.Context) (store.BackupRun, error) {
	s.backups.mu.Lock()
	p := s.backups.plan
	busy := s.backups.running
	s.backups.running = true
	s.backups.mu.Unlock()
	if busy {
		return store.BackupRun{}, timeline.NewFault(timeline.Busy, "fault.backup.busy", "dest", p.Dest)
	}
	defer func() {
		s.backups.mu.Lock()
		s.backups.running = false
		s.backups.mu.Unlock()
	}()
	run := store.BackupRun{Dest: p.Dest, Begun: s.now()}
	err := s.diskThere(ctx, p.Dest)
	if err == nil {
		var rep store.BackupReport
		rep, err = store.Backup(ctx, s.st.Dir(), p.Dest, store.BackupOptions{Now: s.now, Program: p.Program, Prune: true})
		run.Photos, run.Copied, run.Bytes, run.Damaged, run.Lost = rep.Photos, rep.Copied, rep.CopyBytes, len(rep.Damaged), rep.Lost
		if err == nil {
			run.Snapshot = rep.Snapshot
		}
	}
	if ctx.Err() != nil {
		return run, ctx.Err()
	}
	run.Ended = s.now()
	if err != nil {
		run.Trouble = timeline.Say("fault.store.trouble")
		var f *timeline.Fault
		if errors.As(err, &f) {
			run.Trouble = f.Say
		}
	}
	run, noted := s.st.AddBackupRun(ctx, run)
	return run, errors.Join(err, noted)
}

// diskThere refuses a folder that held a backup once and does not any more: where a disk is not plugged in, its place is an
// empty folder on this machine's own disk, and a backup on that one would be none.
func (s *Salon) diskThere(ctx context.Context, dest string) error {
	_, good, err := s.st.LastBackups(ctx, dest)
	if err != nil || good == nil {
		return err
	}
	entries, err := os.ReadDir(dest)
	if errors.Is(err, fs.ErrNotExist) || err == nil && len(entries) == 0 {
		return timeline.NewFault(timeline.Internal, "fault.backup.disk_gone", "dest", dest)
	}
	return nil
}
