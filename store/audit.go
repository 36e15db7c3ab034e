package store

import (
	"context"
	"regexp"
	"strings"

	tl "thatch/timeline"
)

// verbs are everything that store.write is asked to do in somebody's name, with the kind of thing its key is of. "" as
// the verb's kind: of nothing that has a page.
var verbs = map[string]string{
	"create dog": "dog", "update dog": "dog", "trash dog": "dog", "restore dog": "dog",
	"create session": "session", "update session": "session", "end without work session": "session", "trash session": "session", "restore session": "session",
	"create show": "show", "update show": "show", "trash show": "show", "restore show": "show",
	"create profile": "profile", "update profile": "profile", "trash profile": "profile", "restore profile": "profile",
	"add readings": "dog", "trash reading": "reading", "restore reading": "reading",
	"add check": "check", "trash salon_check": "check", "restore salon_check": "check",
	"keep photo": "photo", "update photos": "photo", "trash photo": "photo", "restore photo": "photo",
	"save landmarks": "photo", "save tape": "photo", "save edge of": "photo", "remove edge of": "photo",
	"keep in heap": "heap", "say dog of heap": "heap", "file heap": "photo", "trash heap": "heap", "restore heap": "heap",
	"save target line of": "dog", "remove target line of": "dog",
	"note care of": "dog", "take back care of": "dog", "set care of": "dog", "tick bag of": "show", "untick bag of": "show", "set hands": "",
	"note consent for": "dog", "take back consent for": "dog",
	"create link": "link", "withdraw link": "link", "save settings": "settings",

	"create person": "person", "rename person": "person", "change role of": "person", "change password of": "person", "end person": "person",
	"create invitation": "invitation", "withdraw invitation": "invitation", "join": "person",
	"sign in": "person", "sign out": "person", "end login of": "person", "end logins of": "person", "end all logins": "", "wrong passwords for": "person",
	"create token of": "person", "end token of": "person",
	"create owner code": "", "set password by code of": "person",
	"make spare key of": "person", "end spare key of": "person", "set password by spare key of": "person",
}

// quiet are housekeeping: nobody decides them, so nobody is named.
var quiet = map[string]bool{
	"enqueue jobs": true, "claim job": true, "finish job": true, "fail job": true, "release jobs": true,
	"set photo ready": true, "set marker look": true, "set focal length": true, "unplace": true,
	"touch sign-in": true, "sweep sign-ins": true, "touch token": true, "know browser": true, "rehash password of": true,
	"purge trash": true, "answer once": true, "note backup": true, "heal original": true,
}

// keyForm is an ID of ours or the hash of an original.
var keyForm = regexp.MustCompile(`^([0-9a-hj-km-np-tv-z]{16}|[0-9a-f]{64})$`)

// splitOp parts an operation into what is done and the key of what it is done to.
func splitOp(op string) (verb string, key tl.ID) {
	if i := strings.LastIndexByte(op, ' '); i >= 0 && keyForm.MatchString(op[i+1:]) {
		return op[:i], tl.ID(op[i+1:])
	}
	return op, ""
}

var (
	insertAudit = query(`INSERT INTO audit (at, person, name, token, op, kind, key, note) VALUES (?, ?, ?, ?, ?, ?, ?, ?)`)
	selectAudit = query(`SELECT id, at, person, name, token, op, kind, key, note FROM audit
		WHERE id < ?1 AND (?2 = '' OR person = ?2) AND (?3 = '' OR key = ?3) AND (?4 = '' OR instr(',' || ?4 || ',', ',' || kind || ',') > 0)
		ORDER BY id DESC LIMIT ?5`)
)

// audit writes who asked for the change, in its transaction.
func (s *Store) audit(t tx, op string) error {
	v, asked := tl.VisitorOf(t.ctx)
	verb, key := splitOp(op)
	if !asked || quiet[verb] {
		return nil
	}
	if t.remark.key != "" {
		key = t.remark.key
	}
	_, err := t.exec(insertAudit, stamp(s.now()), v.Person, v.Name, v.Token, verb, verbs[verb], key, t.remark.note)
	return err
}

// remark is filled in by a write that knows its key only when it is done, or has more to say.
type remark struct {
	key  tl.ID
	note string
}

// Note writes a line into the log of changes for what changed no row, in the name of ctx's visitor. op is a verb of the
// list and a key.
func (s *Store) Note(ctx context.Context, op, note string) error {
	return s.write(ctx, op, func(t tx) error { t.remark.note = note; return nil })
}

// ChangesOf chooses lines of the log of changes; the zero value means all.
type ChangesOf struct {
	Before int64    // only lines with a smaller number; 0: from the newest
	Person tl.ID    // "": of all
	Key    tl.ID    // of one thing
	Kinds  []string // of these kinds of things
	Limit  int
}

// Changes are newest first.
func (s *Store) Changes(ctx context.Context, of ChangesOf) ([]tl.Change, error) {
	if of.Before <= 0 {
		of.Before = 1<<63 - 1
	}
	out := []tl.Change{}
	err := s.read(ctx, "changes", func(t tx) error {
		return t.each(func(r scanner) error {
			var c tl.Change
			if err := r.Scan(&c.Number, at{&c.At}, &c.Person, &c.Name, &c.Token, &c.Op, &c.Kind, &c.Key, &c.Note); err != nil {
				return err
			}
			out = append(out, c)
			return nil
		}, selectAudit, of.Before, of.Person, of.Key, strings.Join(of.Kinds, ","), of.Limit)
	})
	return out, err
}
