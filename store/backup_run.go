package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"strings"
	"time"

	tl "thatch/timeline"
)

// BackupRun is one run of the schedule.
type BackupRun struct {
	ID            tl.ID
	Dest          string
	Begun, Ended  time.Time
	Snapshot      string // "" where it failed
	Photos        int    // in the backup
	Copied        int    // by this run
	Bytes         int64  // copied by this run
	Damaged, Lost int    // photos of the salon; of these, not in the backup either
	Trouble       tl.Phrase
}

// Good reports whether there is a backup of it.
func (r BackupRun) Good() bool { return r.Trouble.IsZero() }

// keptRuns is how many are remembered of a destination.
const keptRuns = 100

const backupRunColumns = `id, dest, begun_at, ended_at, snapshot, photos, copied, bytes, damaged, lost, trouble`

var (
	insertBackupRun   = query(`INSERT INTO backup_run (` + backupRunColumns + `) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`)
	forgetBackupRuns  = query(`DELETE FROM backup_run WHERE dest = ?1 AND trouble <> 'null' AND id NOT IN (SELECT id FROM backup_run WHERE dest = ?1 ORDER BY begun_at DESC, rowid DESC LIMIT ?2)`)
	lastBackupRun     = query(`SELECT ` + backupRunColumns + ` FROM backup_run WHERE dest = ? ORDER BY begun_at DESC, rowid DESC LIMIT 1`)
	lastGoodBackupRun = query(`SELECT ` + backupRunColumns + ` FROM backup_run WHERE dest = ? AND trouble = 'null' ORDER BY begun_at DESC, rowid DESC LIMIT 1`)
)

// AddBackupRun remembers how a run went, and fills in its ID.
func (s *Store) AddBackupRun(ctx context.Context, r BackupRun) (BackupRun, error) {
	r.ID = newID()
	err := s.write(ctx, "note backup", func(t tx) error {
		trouble := "null"
		if !r.Good() {
			trouble = asJSON(r.Trouble)
		}
		if _, err := t.exec(insertBackupRun, r.ID, r.Dest, stamp(r.Begun), stamp(r.Ended), r.Snapshot, r.Photos, r.Copied, r.Bytes, r.Damaged, r.Lost, trouble); err != nil {
			return err
		}
		_, err := t.exec(forgetBackupRuns, r.Dest, keptRuns)
		return err
	})
	return r, err
}

// LastBackups are the last run to a destination and the last good one; nil: none.
func (s *Store) LastBackups(ctx context.Context, dest string) (last, good *BackupRun, err error) {
	err = s.read(ctx, "last backups", func(t tx) (err error) {
		if last, err = scanBackupRun(t.row(lastBackupRun, dest)); err != nil {
			return err
		}
		good, err = scanBackupRun(t.row(lastGoodBackupRun, dest))
		return err
	})
	return last, good, err
}

func scanBackupRun(row scanner) (*BackupRun, error) {
	var r BackupRun
	var trouble string
	err := row.Scan(&r.ID, &r.Dest, at{&r.Begun}, at{&r.Ended}, &r.Snapshot, &r.Photos, &r.Copied, &r.Bytes, &r.Damaged, &r.Lost, &trouble)
	if errors.Is(err, sql.ErrNoRows) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	r.Trouble, err = phraseOf(trouble)
	return &r, err
}

// phraseOf reads a phrase back; its numbers are whole ones again, by which the catalogue chooses between one and many.
func phraseOf(text string) (p tl.Phrase, err error) {
	d := json.NewDecoder(strings.NewReader(text))
	d.UseNumber()
	if err := d.Decode(&p); err != nil {
		return p, err
	}
	for name, v := range p.Args {
		if n, ok := v.(json.Number); ok {
			if whole, err := n.Int64(); err == nil {
				p.Args[name] = int(whole)
			} else {
				p.Args[name] = n.String()
			}
		}
	}
	return p, nil
}
