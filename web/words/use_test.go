package words

import (
	"encoding/json"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"thatch/timeline"
	"thatch/timeline/coat"
)

// families are keys that are made from a value: the fixed beginning, and every value that may follow.
var families = map[string][]string{
	"cmd.help.": nil, // variables of the commands' tags
	"format.":   {"heic", "avif", "gif", "tiff", "bmp", "psd", "pdf", "raw", "video", "jpeg_rare", "png_rare", "heif_rare", "jpeg xl", "jpeg 2000", "webp_animation"},
	"zone.":     all(timeline.Zones()), "group.": all(timeline.Groups()), "point.": all(timeline.Points()), "points.where.": all(timeline.Points()),
	"part.": all([]timeline.Part{timeline.PartHead, timeline.PartTrunk, timeline.PartForeleg, timeline.PartHindleg}),
	"work.": all(timeline.Works()), "session.do.": all(timeline.Works()), "tool.": all(timeline.Tools()),
	"ripeness.": all(timeline.Ripenesses()), "cover.": all(timeline.Covers()), "new_hair.": all(timeline.NewHairs()), "hair_check.": all(timeline.HairChecks()),
	"skin.": all(timeline.Skins()), "loft.": all(timeline.Lofts()), "side.": all(timeline.Sides()), "phase.": all(timeline.Phases()),
	"coat_state.": all(timeline.CoatStates()), "undercoat.": all(timeline.Undercoats()), "texture.": all(timeline.Textures()),
	"source.": all([]timeline.Source{
		timeline.SourceUser, timeline.SourceExifOffset, timeline.SourceExifGPS, timeline.SourceExif, timeline.SourceExifDigitized,
		timeline.SourceXMP, timeline.SourceIPTC, timeline.SourceFilename, timeline.SourceNone,
	}),
	"marker.why.": {"foreign", "newer", "unread", "hidden", "bent", "tilted", "several", "failed"},
	"heap.why.":   {"unlooked", "none", "salon", "unknown", "foreign", "newer", "unread", "hidden", "bent", "tilted", "several", "failed"},
	"share.":      {"top", "few", "quarter", "third", "half", "all"},
	"verdict.":    {"on track", "tight", "too late", ""},
	"status.":     {"starting guess", "updating", "learned"}, "growth.status.": {"starting guess", "updating", "learned"},
	"care.": all(timeline.Cares()), "lesson.": all(timeline.Lessons()), "lesson.how.": all(timeline.Lessons()), "sign.": all(timeline.Signs()), "vet.": all(timeline.Signs()), "bag.": all(timeline.BagItems()),
	"tolerance.": all(timeline.Tolerances()), "not_today.": all(timeline.NotTodays()), "off.caution.": {"ill", "sore_skin"},
	"weekday.": {"0", "1", "2", "3", "4", "5", "6"},
	"month.":   {"1", "2", "3", "4", "5", "6", "7", "8", "9", "10", "11", "12"},

	"trash.kind.": {"dog", "photo", "session", "reading", "show", "profile", "check", "heap"}, "fault.store.not_found.": {"dog", "photo", "session", "reading", "show", "link", "profile", "edge", "target", "salon_check", "heap", "person", "invitation", "owner_code", "sign_in", "token"},
	"sheet.step.": {"care", "brush", "card", "pinch", "look", "end"}, "sheet.step.help.": {"care", "brush", "card", "pinch", "look", "end"}, "sheet.step.short.": {"care", "brush", "card", "pinch"},
	"first.head.": {"yes", "partly", "untested", "not_yet", "ask"}, "first.key.": {"old", "thinned", "bare", "short", "new", "rolling", "kept"},
	"kinds.part.": {"growth", "hints", "rules"}, "kinds.help.": {"growth", "hints", "rules"}, "kinds.curve.": {"plateau", "monomolecular"},
	"shows.priority.":  {"1", "2", "3"},
	"lines.":           {"measured", "expected", "target", "wanted", "edge", "skin"},
	"fault.coat.want_": {"text", "number", "whole_number", "true_false", "list", "object"},
	"style.colour.":    {"page", "surface", "sunk", "ink", "soft", "action", "show", "late", "photo"},

	"role.": all(timeline.Roles()), "role.note.": all(timeline.Roles()), "scope.": all(timeline.Scopes()),
	"changes.op.": {
		"create_dog", "update_dog", "trash_dog", "restore_dog", "create_session", "update_session", "end_without_work_session", "trash_session", "restore_session", "create_show",
		"update_show", "trash_show", "restore_show", "create_profile", "update_profile", "trash_profile", "restore_profile", "add_readings",
		"trash_reading", "restore_reading", "add_check", "trash_salon_check", "restore_salon_check", "keep_photo", "update_photos", "trash_photo",
		"restore_photo", "save_landmarks", "save_tape", "save_edge_of", "remove_edge_of", "keep_in_heap", "say_dog_of_heap", "file_heap", "trash_heap",
		"restore_heap", "save_target_line_of", "remove_target_line_of", "create_link", "withdraw_link", "save_settings", "create_person", "rename_person",
		"change_role_of", "change_password_of", "end_person", "create_invitation", "withdraw_invitation", "join", "sign_in", "sign_out", "end_login_of",
		"end_logins_of", "end_all_logins", "wrong_passwords_for", "create_token_of", "end_token_of", "create_owner_code", "set_password_by_code_of", "make_spare_key_of", "end_spare_key_of", "set_password_by_spare_key_of", "note_consent_for", "take_back_consent_for",
		"note_care_of", "take_back_care_of", "set_care_of", "tick_bag_of", "untick_bag_of", "set_hands",
	},

	"cited.": cited(),

	// Their values are read out of the code that makes them, by the two last tests here.
	"fault.photo.": nil, "flag.": nil, "said.": nil,
}

// cited are where the values of the built-in kinds of coat are from.
func cited() []string {
	out := []string{coat.SalonsOwn}
	names, err := filepath.Glob("../../timeline/coat/profiles/*.json")
	if err != nil || len(names) < 4 {
		panic("the built-in kinds of coat are not where they were")
	}
	for _, name := range names {
		b, err := os.ReadFile(name)
		if err != nil {
			panic(err)
		}
		var p struct {
			Source  string                             `json:"source"`
			Sources map[string]string                  `json:"sources"`
			Zones   map[string]struct{ Source string } `json:"zones"`
		}
		if err := json.Unmarshal(b, &p); err != nil {
			panic(err)
		}
		for _, s := range p.Sources {
			out = append(out, s)
		}
		for _, z := range p.Zones {
			out = append(out, z.Source)
		}
	}
	return slices.DeleteFunc(out, func(s string) bool { return s == "" })
}

func all[T ~string](values []T) []string {
	out := make([]string, len(values))
	for i, v := range values {
		out[i] = string(v)
	}
	return out
}

// inFamily reports whether a key is made from a value; the beginning of a family is in it.
func inFamily(key string) bool {
	for prefix, values := range families {
		if value, ok := strings.CutPrefix(key, prefix); ok && (value == "" || values == nil || slices.Contains(values, value)) {
			return true
		}
	}
	return false
}

func TestEveryMemberOfAFamilyIsInTheCatalogue(t *testing.T) {
	for prefix, values := range families {
		for _, v := range values {
			if _, ok := catalogues["en"][prefix+v]; !ok {
				t.Errorf("the catalogue lacks %q", prefix+v)
			}
		}
	}
}

// The words of the program's own files: literals that have the form of a key.
var (
	keyForm = regexp.MustCompile(`"([a-z_]+(?:\.[a-z0-9_]+)+)"`)
	plural  = regexp.MustCompile(`\.(one|other)$`)
)

// used are the literals of the form of a key in Go code and templates, with one place each.
func used(t *testing.T) map[string]string {
	t.Helper()
	out := map[string]string{}
	everyFile(t, func(name string, text []byte) {
		for _, m := range keyForm.FindAllSubmatch(text, -1) {
			out[string(m[1])] = name
		}
	}, ".go", ".html")
	if len(out) < 300 {
		t.Fatalf("only %d keys are used: the pattern reads nothing", len(out))
	}
	return out
}

// everyFile reads every file of the program with one of the endings, tests left out.
func everyFile(t *testing.T, read func(name string, text []byte), endings ...string) {
	t.Helper()
	for _, root := range []string{"../../cmd", "../../server", "../../imaging", "../../timeline", "../../store", "../../web"} {
		err := filepath.WalkDir(root, func(name string, d fs.DirEntry, err error) error {
			if err != nil || d.IsDir() || strings.HasSuffix(name, "_test.go") || !slices.Contains(endings, filepath.Ext(name)) {
				return err
			}
			b, err := os.ReadFile(name)
			if err == nil {
				read(name, b)
			}
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
	}
}

// sure are beginnings that nothing but a key has, wherever it stands: in a table, a variable, a constant.
var sure = regexp.MustCompile(`^(fault|why|warn|look|change|demo|cmd|align|overlay)\.`)

func TestEveryKeyThatIsUsedIsInTheCatalogue(t *testing.T) {
	for key, where := range used(t) {
		if _, beginning := families[key]; beginning || !sure.MatchString(key) {
			continue // those that are said by a call are held to their sentence by the tests beside this one
		}
		_, plain := catalogues["en"][key]
		_, one := catalogues["en"][key+".one"]
		_, other := catalogues["en"][key+".other"]
		if !plain && !(one && other) {
			t.Errorf("%s uses %q, which the catalogue lacks", where, key)
		}
	}
}

func TestEveryKeyOfTheCatalogueIsUsed(t *testing.T) {
	by := used(t)
	for _, key := range Keys("en") {
		if by[key] == "" && by[plural.ReplaceAllString(key, "")] == "" && !inFamily(key) {
			t.Errorf("nobody uses %q", key)
		}
	}
}

// What is told by a code has a sentence for every code, and a code for every sentence.
func TestEveryCodeHasItsSentence(t *testing.T) {
	by := used(t)
	for prefix, c := range map[string]struct{ under, code string }{
		"fault.photo.": {"imaging/refusal.go", `(?m)^\s*Code[A-Z]\w*\s*=\s*"([a-z_]+)"`},
		"flag.":        {"imaging/facts.go", `(?m)^\s*Flag[A-Z]\w*\s*=\s*"([a-z_]+)"`},
	} {
		codes := map[string]bool{}
		everyFile(t, func(name string, text []byte) {
			if !strings.Contains(filepath.ToSlash(name), c.under) {
				return
			}
			for _, m := range regexp.MustCompile(c.code).FindAllSubmatch(text, -1) {
				key := prefix + string(m[1])
				codes[key] = true
				if _, ok := catalogues["en"][key]; !ok {
					t.Errorf("%s: the catalogue lacks %q", name, key)
				}
			}
		}, ".go")
		if len(codes) < 5 {
			t.Errorf("%s: only %d codes were found", c.under, len(codes))
		}
		for _, key := range Keys("en") {
			if strings.HasPrefix(key, prefix) && !codes[key] && by[key] == "" {
				t.Errorf("nobody uses %q", key)
			}
		}
	}
}

// Everything a page may say after an action is in the list of sayings, is said by some action, and has its sentence.
func TestEverySayingIsSaid(t *testing.T) {
	const list = "server/pages/said.go"
	literal := regexp.MustCompile(`"((?:[a-z]+\.)?[a-z]+)"`)
	listed, times := map[string]bool{}, map[string]int{}
	everyFile(t, func(name string, text []byte) {
		name = filepath.ToSlash(name)
		if !strings.Contains(name, "server/pages/") {
			return
		}
		for _, m := range literal.FindAllSubmatch(text, -1) {
			times[string(m[1])]++
		}
		if !strings.HasSuffix(name, list) {
			return
		}
		_, rest, _ := strings.Cut(string(text), "sayings = ")
		rest, _, _ = strings.Cut(rest, "}")
		for _, m := range literal.FindAllStringSubmatch(rest, -1) {
			listed[m[1]] = true
		}
	}, ".go")
	if len(listed) < 10 {
		t.Fatalf("only %d sayings are listed in %s", len(listed), list)
	}
	for code := range listed {
		if _, ok := catalogues["en"]["said."+code]; !ok {
			t.Errorf("the catalogue lacks %q", "said."+code)
		}
		if times[code] < 2 {
			t.Errorf("no action says %q", code)
		}
	}
	for _, key := range Keys("en") {
		if code, ok := strings.CutPrefix(key, "said."); ok && !listed[code] {
			t.Errorf("nobody uses %q", key)
		}
	}
}
