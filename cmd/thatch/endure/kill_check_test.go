package endure_test

import (
	"crypto/sha256"
	"database/sql"
	"fmt"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"time"
)

// filesSeen are files whose bytes were right and that nobody touched since.
type filesSeen map[string]time.Time

// check compares what the data folder holds with what was acknowledged, and takes over what got through without an answer. It
// looks past the program: at the database and the files.
func (s *salonUnderFire) check(seen filesSeen) (wrong []string, err error) {
	say := func(format string, args ...any) { wrong = append(wrong, fmt.Sprintf(format, args...)) }
	file := filepath.Join(s.data, "thatch.db")
	if s.far { // SQLite follows the links of a path by itself, and cannot follow those of /proc
		dir, err := os.MkdirTemp("", "thatch-far-")
		if err != nil {
			return nil, err
		}
		defer os.RemoveAll(dir)
		for _, end := range []string{"", "-wal"} {
			b, err := os.ReadFile(file + end)
			if err == nil {
				err = os.WriteFile(filepath.Join(dir, "thatch.db"+end), b, 0o600)
			}
			if err != nil {
				return nil, err
			}
		}
		file = filepath.Join(dir, "thatch.db")
	}
	at := (&url.URL{Scheme: "file", Path: filepath.ToSlash(file), RawQuery: "mode=ro&_pragma=busy_timeout(5000)"}).String()
	db, err := sql.Open("sqlite", at)
	if err != nil {
		return nil, err
	}
	defer db.Close()
	photos, err := pairs(db, "SELECT p.dog || ' ' || p.sha256, p.sha256 FROM photo p JOIN original o ON o.sha256 = p.sha256")
	if err != nil {
		return nil, err
	}
	names, err := pairs(db, "SELECT name, id FROM dog")
	if err != nil {
		return nil, err
	}
	for _, g := range s.groomers {
		for _, sha := range g.photos {
			if photos[g.dog+" "+sha] == "" {
				say("an acknowledged photo is lost: %.8s", sha)
			}
		}
		for _, name := range g.dogs {
			if names[name] == "" {
				say("an acknowledged dog is lost: %s", name)
			}
		}
		for _, v := range []struct {
			what  string
			value *value
			query string
			of    string
		}{
			{"note", &g.note, "SELECT note FROM session WHERE id = ?", g.session},
			{"line of the log", &g.remark, "SELECT coalesce((SELECT remark FROM session_work WHERE session = ? AND zone = 'back'), '')", g.session},
			{"edit of a dog", &g.dogNotes, "SELECT notes FROM dog WHERE id = ?", g.dog},
		} {
			var is string
			if err := db.QueryRow(v.query, v.of).Scan(&is); err != nil {
				return nil, fmt.Errorf("%s: %w", v.what, err)
			}
			if is != v.value.acked && is != v.value.tried {
				say("an acknowledged %s is lost: it is %q, acknowledged was %q, tried %q", v.what, is, v.value.acked, v.value.tried)
			}
			v.value.acked = is
		}
		if err := db.QueryRow("SELECT rev FROM session WHERE id = ?", g.session).Scan(&g.sessionRev); err != nil {
			return nil, err
		}
		if err := db.QueryRow("SELECT rev FROM dog WHERE id = ?", g.dog).Scan(&g.dogRev); err != nil {
			return nil, err
		}
	}
	originals, err := pairs(db, "SELECT sha256, sha256 FROM original")
	if err != nil {
		return nil, err
	}
	folder := filepath.Join(s.data, "photos")
	for sha := range originals {
		if _, err := os.Stat(filepath.Join(folder, sha[:2], sha)); err != nil {
			say("a row without its file: %.8s", sha)
		}
	}
	return wrong, filepath.WalkDir(folder, func(path string, e fs.DirEntry, err error) error {
		if err != nil || e.IsDir() {
			return err
		}
		info, err := e.Info()
		if err != nil || seen[path].Equal(info.ModTime()) {
			return err
		}
		b, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		if fmt.Sprintf("%x", sha256.Sum256(b)) != e.Name() {
			say("under an original's name lies a torn file: %.8s, %d bytes", e.Name(), len(b))
			return nil
		}
		seen[path] = info.ModTime()
		return nil
	})
}

func pairs(db *sql.DB, query string) (map[string]string, error) {
	rows, err := db.Query(query)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	out := map[string]string{}
	for rows.Next() {
		var k, v string
		if err := rows.Scan(&k, &v); err != nil {
			return nil, err
		}
		out[k] = v
	}
	return out, rows.Err()
}

func shaHex(b []byte) string { return fmt.Sprintf("%x", sha256.Sum256(b)) }
