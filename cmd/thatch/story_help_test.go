package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"math"
	"os"
	"os/exec"
	"reflect"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"github.com/rogpeppe/go-internal/testscript"
	"thatch/cmd/thatch/tested"
)

// checksOfStories are what a script may say beside testscript's own words.
var checksOfStories = map[string]func(ts *testscript.TestScript, neg bool, args []string){
	"exits": exits,
	"json":  checkJSON,
	"tree": func(ts *testscript.TestScript, _ bool, args []string) {
		if len(args) != 2 {
			ts.Fatalf("usage: tree DIR OUT")
		}
		list, err := tested.Tree(ts.MkAbs(args[0]))
		ts.Check(err)
		ts.Check(os.WriteFile(ts.MkAbs(args[1]), []byte(list), 0o644))
	},
}

// exits CODE COMMAND ARG… runs the command and holds it to exactly that exit code. Code 2 promises more: one line of complaint,
// nothing on stdout, no file made, changed or taken away.
func exits(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: exits CODE COMMAND ARG…")
	}
	want, err := strconv.Atoi(args[0])
	ts.Check(err)
	before, err := tested.Tree(ts.MkAbs("."))
	ts.Check(err)
	code := 0
	if err := ts.Exec(args[1], args[2:]...); err != nil {
		var ended *exec.ExitError
		if !errors.As(err, &ended) {
			ts.Fatalf("%v", err)
		}
		code = ended.ExitCode()
	}
	if code != want {
		ts.Fatalf("exit code %d, want %d", code, want)
	}
	if want != exitInput {
		return
	}
	if out := ts.ReadFile("stdout"); out != "" {
		ts.Fatalf("something was printed: %s", out)
	}
	if trouble := notOneClearLine(ts.ReadFile("stderr")); trouble != "" {
		ts.Fatalf("%s", trouble)
	}
	after, err := tested.Tree(ts.MkAbs("."))
	ts.Check(err)
	if before != after {
		ts.Fatalf("something was written; before:\n%safter:\n%s", before, after)
	}
}

var (
	rawKey      = regexp.MustCompile(`\b(fault|cmd|why|warn|look)\.[a-z]`)
	unfilled    = regexp.MustCompile(`\{[a-z_]+\}|%!|<nil>`)
	oneSentence = regexp.MustCompile(`^thatch: \S[^\n]{10,}\n$`)
)

// notOneClearLine says what keeps a complaint from being one line in words.
func notOneClearLine(s string) string {
	switch {
	case !oneSentence.MatchString(s):
		return fmt.Sprintf("not one line that begins with thatch: %q", s)
	case rawKey.MatchString(s):
		return fmt.Sprintf("a key instead of a sentence: %q", s)
	case unfilled.MatchString(s):
		return fmt.Sprintf("a place in the sentence is not filled: %q", s)
	}
	return ""
}

// checkJSON looks into one JSON document:
//
//	json FILE PATH is VALUE        equal to the JSON value
//	json FILE PATH near X TOL      a number within TOL of X
//	json FILE PATH len N           a list of N
//	json FILE PATH keys a,b,c      an object of exactly these names
//	json FILE PATH like REGEXP     a string that matches
//
// PATH is names and indices with dots between them; "." is the whole document. "! json" wants the opposite.
func checkJSON(ts *testscript.TestScript, neg bool, args []string) {
	if len(args) < 4 {
		ts.Fatalf("usage: json FILE PATH is|near|len|keys|like …")
	}
	trouble, err := lookInto(ts.ReadFile(args[0]), args[1], args[2], args[3:])
	ts.Check(err)
	if (trouble != "") != neg {
		ts.Fatalf("%s: %s", args[1], cmpOr(trouble, "it is so"))
	}
}

func cmpOr(a, b string) string {
	if a != "" {
		return a
	}
	return b
}

// lookInto is checkJSON's judgement: what is not as wanted, or "".
func lookInto(doc, path, how string, want []string) (string, error) {
	var v any
	if err := json.Unmarshal([]byte(doc), &v); err != nil {
		return "", fmt.Errorf("not one JSON document: %w", err)
	}
	for name := range strings.SplitSeq(strings.Trim(path, "."), ".") {
		if name == "" {
			continue
		}
		switch in := v.(type) {
		case map[string]any:
			next, ok := in[name]
			if !ok {
				return "", fmt.Errorf("no %q among %v", name, slices.Sorted(maps.Keys(in)))
			}
			v = next
		case []any:
			i, err := strconv.Atoi(name)
			if err != nil || i < 0 || i >= len(in) {
				return "", fmt.Errorf("no %q in a list of %d", name, len(in))
			}
			v = in[i]
		default:
			return "", fmt.Errorf("no %q in %v", name, v)
		}
	}
	is := func(ok bool) (string, error) {
		if ok {
			return "", nil
		}
		return fmt.Sprintf("%v, not %s %s", v, how, strings.Join(want, " ")), nil
	}
	switch how {
	case "is":
		var w any
		if err := json.Unmarshal([]byte(want[0]), &w); err != nil {
			return "", err
		}
		return is(reflect.DeepEqual(v, w))
	case "near":
		x, err := strconv.ParseFloat(want[0], 64)
		if err != nil || len(want) != 2 {
			return "", errors.New("near needs a number and a tolerance")
		}
		tol, err := strconv.ParseFloat(want[1], 64)
		if err != nil {
			return "", err
		}
		f, ok := v.(float64)
		return is(ok && math.Abs(f-x) <= tol)
	case "len":
		list, ok := v.([]any)
		return is(ok && strconv.Itoa(len(list)) == want[0])
	case "keys":
		o, ok := v.(map[string]any)
		names := strings.Split(want[0], ",")
		slices.Sort(names)
		return is(ok && slices.Equal(slices.Sorted(maps.Keys(o)), names))
	case "like":
		re, err := regexp.Compile(want[0])
		if err != nil {
			return "", err
		}
		s, ok := v.(string)
		return is(ok && re.MatchString(s))
	}
	return "", fmt.Errorf("unknown check %q", how)
}
