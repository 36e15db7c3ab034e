package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"path/filepath"
	"slices"

	tl "thatch/timeline"
)

// databaseSays is what could be read of a database.
type databaseSays struct {
	readable bool             // it names its photos
	photos   map[string]int64 // hash → bytes
}

// askAgain is how often a database is read anew because somebody began to write to it meanwhile.
const askAgain = 3

// database checks the salon's database. What is wrong is a finding, except that a newer version is a Fault.
func (v *verifier) database(ctx context.Context) (says databaseSays, err error) {
	v.Progress(0, 1, dbName)
	says, found, err := checkDatabase(ctx, v.FS, filepath.Join(v.dir, dbName))
	if err != nil {
		return says, err
	}
	for _, f := range found {
		v.damage(Finding{dbName, f})
	}
	return says, nil
}

// askPhotos are the photos that the database names now.
func (v *verifier) askPhotos(ctx context.Context) (map[string]int64, error) {
	l, err := openLooked(ctx, filepath.Join(v.dir, dbName))
	if err != nil {
		return nil, err
	}
	defer l.Close()
	return photosOf(ctx, l.DB)
}

func photosOf(ctx context.Context, db *sql.DB) (map[string]int64, error) {
	list, err := originalsOf(ctx, db)
	if err != nil {
		return nil, err
	}
	out := make(map[string]int64, len(list))
	for _, f := range list {
		out[f.SHA256] = f.Bytes
	}
	return out, nil
}

// checkDatabase looks at a database from its header to its references.
func checkDatabase(ctx context.Context, fsys FS, path string) (says databaseSays, found []tl.Phrase, err error) {
	if _, err := fsys.Stat(path); errors.Is(err, fs.ErrNotExist) {
		return says, []tl.Phrase{tl.Say("verify.database.missing")}, nil
	}
	switch err := (&Store{fs: fsys}).peek(path); {
	case tl.KindOf(err) == tl.TooNew:
		// A flipped bit makes a newer version too; but then the tables are ours.
		if _, wrong := lookAt(ctx, path); wrong != nil {
			return says, nil, withDir(err, filepath.Dir(path))
		}
		return says, []tl.Phrase{damagedDatabase("its version is not one that there is")}, nil
	case err != nil:
		return says, []tl.Phrase{damagedDatabase(err.Error())}, nil
	}
	for range askAgain {
		l, err := openLooked(ctx, path)
		if err != nil {
			return says, []tl.Phrase{damagedDatabase(err.Error())}, nil
		}
		says, found, err = ask(ctx, l.DB)
		if err == nil && len(found) == 0 && l.still {
			if sealed := checkSeal(ctx, fsys, filepath.Dir(path)); errors.Is(sealed, errSeal) {
				found = []tl.Phrase{tl.Say("verify.database.seal", "file", sealName)}
			}
		}
		moved := l.moved()
		l.Close()
		if err != nil {
			return says, nil, err
		}
		if !moved {
			break
		}
	}
	return says, found, nil
}

// ask is an error only where the asking was stopped, or the database is locked.
func ask(ctx context.Context, db *sql.DB) (says databaseSays, found []tl.Phrase, err error) {
	wrong, err := integrity(ctx, db)
	if err == nil {
		var more []string
		more, err = strangeSchema(ctx, db)
		wrong = append(wrong, more...)
	}
	if err == nil || isDamage(err) {
		var asking error
		says.photos, asking = photosOf(ctx, db)
		says.readable = asking == nil
		err = errors.Join(err, asking)
	}
	if ctx.Err() != nil {
		return says, nil, ctx.Err()
	}
	if err != nil && !isDamage(err) {
		return says, nil, err
	}
	if err != nil {
		wrong = append(wrong, err.Error())
	}
	if len(wrong) > 0 {
		found = append(found, damagedDatabase(wrong[0]))
	}
	return says, found, nil
}

// isDamage tells what SQLite says of a file from what it says of locks: a page that makes no sense may be told as anything.
func isDamage(err error) bool {
	c := codeOf(err) & 0xff
	var f *tl.Fault
	return c != 0 && c != sqliteBusy && c != sqliteLocked || errors.As(err, &f) && f.Kind == tl.Internal || errors.Is(err, sql.ErrNoRows)
}

func damagedDatabase(why string) tl.Phrase { return tl.Say("verify.database.damaged", "why", why) }

func lookAt(ctx context.Context, path string) (databaseSays, error) {
	l, err := openLooked(ctx, path)
	if err != nil {
		return databaseSays{}, err
	}
	defer l.Close()
	if wrong, err := strangeSchema(ctx, l.DB); err != nil || len(wrong) > 0 {
		return databaseSays{}, errors.Join(err, errors.New("another schema"))
	}
	return databaseSays{}, nil
}

// strangeSchema holds tables and indexes against those of a database that was made anew in the same version.
func strangeSchema(ctx context.Context, db *sql.DB) ([]string, error) {
	var version, id int
	if err := db.QueryRowContext(ctx, "PRAGMA user_version").Scan(&version); err != nil {
		return nil, err
	}
	if err := db.QueryRowContext(ctx, "PRAGMA application_id").Scan(&id); err != nil {
		return nil, err
	}
	have, err := schemaOf(ctx, db)
	if err != nil {
		return nil, err
	}
	if version == 0 && id == 0 && len(have) == 0 {
		return []string{"it is empty"}, nil
	}
	know := migrations()
	fresh, err := sql.Open("sqlite", ":memory:")
	if err != nil {
		return nil, err
	}
	defer fresh.Close()
	fresh.SetMaxOpenConns(1)
	if err := migrate(ctx, fresh, know[:min(max(version, 0), len(know))]); err != nil {
		return nil, err
	}
	want, err := schemaOf(ctx, fresh)
	if err != nil {
		return nil, err
	}
	for _, name := range sorted(slices.Collect(maps.Keys(want))) {
		if have[name] != want[name] {
			return []string{fmt.Sprintf("%s is not as a salon of version %d has it", name, version)}, nil
		}
	}
	for _, name := range sorted(slices.Collect(maps.Keys(have))) {
		if _, ok := want[name]; !ok {
			return []string{fmt.Sprintf("%s is not of a salon of version %d", name, version)}, nil
		}
	}
	return nil, nil
}

// schemaOf is the text of every table and index by its name; SQLite's own are left out.
func schemaOf(ctx context.Context, db *sql.DB) (map[string]string, error) {
	rows, err := db.QueryContext(ctx, "SELECT type || ' ' || name, coalesce(tbl_name || ': ' || sql, '') FROM sqlite_schema WHERE name NOT LIKE 'sqlite\\_%' ESCAPE '\\'")
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	out := map[string]string{}
	for rows.Next() {
		var name, text string
		if err := rows.Scan(&name, &text); err != nil {
			return nil, err
		}
		out[name] = text
	}
	return out, rows.Err()
}

func sorted(list []string) []string { slices.Sort(list); return list }

// withDir names the folder in a fault of peek.
func withDir(err error, dir string) error {
	var f *tl.Fault
	if errors.As(err, &f) {
		if f.Say.Args == nil {
			f.Say.Args = map[string]any{}
		}
		f.Say.Args["dir"] = dir
	}
	return err
}
