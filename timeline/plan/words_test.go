package plan

import (
	"encoding/json"
	"os"
	"regexp"
	"strings"
	"testing"

	"thatch/timeline"
	"thatch/timeline/coat"
	"thatch/timeline/outside"
)

// catalogue reads the texts without the package that speaks them: the model knows no words.
func catalogue(t *testing.T) map[string]string {
	t.Helper()
	b, err := os.ReadFile("../../web/words/en/plan.json")
	if err != nil {
		t.Fatal(err)
	}
	m := map[string]string{}
	if err := json.Unmarshal(b, &m); err != nil {
		t.Fatal(err)
	}
	return m
}

var placeholder = regexp.MustCompile(`\{(\w+)\}`)

func checkPhrase(t *testing.T, words map[string]string, p timeline.Phrase) {
	t.Helper()
	text, ok := words[p.Key]
	if n, isInt := p.Args["n"].(int); isInt {
		form := ".other"
		if n == 1 {
			form = ".one"
		}
		if v, has := words[p.Key+form]; has {
			text, ok = v, true
		}
	}
	if !ok {
		t.Errorf("no text for %s", p)
		return
	}
	for _, m := range placeholder.FindAllStringSubmatch(text, -1) {
		if _, has := p.Args[m[1]]; !has {
			t.Errorf("%s has no %s for %q", p, m[1], text)
		}
	}
}

func TestEveryReasonHasItsWords(t *testing.T) {
	words := catalogue(t)
	said := map[string]bool{}
	hear := func(p timeline.Phrase) {
		checkPhrase(t, words, p)
		said[p.Key] = true
	}
	var last Plan
	for seed := range outside.ManyOf(t, 40) {
		r := rng(3_000_000 + seed)
		f := randomFile(r, caseSize{zones: 1 + r.IntN(22), sessions: 1 + r.IntN(6), shows: 1 + r.IntN(2)})
		p := mustMake(t, f)
		for _, s := range p.Sessions {
			for _, l := range s.Zones {
				hear(l.Why)
			}
		}
		for _, w := range append(p.Warnings, Compare(last, p)...) {
			hear(w)
		}
		if half := *f.Sessions; half.Minutes > 2 {
			half.Minutes /= 2
			f.Sessions = &half
			for _, c := range Compare(p, mustMake(t, f)) {
				hear(c)
			}
		}
		last = p
	}
	for key := range words {
		base := strings.TrimSuffix(strings.TrimSuffix(key, ".one"), ".other")
		if (strings.HasPrefix(base, "why.") || strings.HasPrefix(base, "warn.")) && !said[base] {
			t.Logf("never said in these plans: %s", base)
		}
	}
	if len(said) < 30 {
		t.Errorf("only %d different things said", len(said))
	}
}

func TestTheDocumentHasItsAgreedShape(t *testing.T) {
	f := overgrown(timeline.Date(2026, 3, 2))
	f.Zones = map[timeline.Zone]coat.Zone{timeline.Back: f.Zones[timeline.Back], timeline.Beard: f.Zones[timeline.Beard]}
	f.Shows = []coat.Show{{Name: "A", On: f.Today + 57}}
	f.Sessions = &coat.Sessions{EveryDays: 14, First: f.Today, Minutes: 30}
	b, err := json.Marshal(mustMake(t, f).JSON(func(p timeline.Phrase) string { return p.Key }))
	if err != nil {
		t.Fatal(err)
	}
	var doc map[string]any
	if err := json.Unmarshal(b, &doc); err != nil {
		t.Fatal(err)
	}
	for _, k := range []string{"feasible", "largest_regret", "readiness_mean", "gap", "sessions", "zones", "warnings"} {
		if v, ok := doc[k]; !ok || v == nil {
			t.Errorf("no %s", k)
		}
	}
	beard := doc["zones"].(map[string]any)["beard"].(map[string]any)
	for _, k := range []string{"readiness", "best_alone", "ready_by"} {
		if v, ok := beard[k]; !ok || v != nil {
			t.Errorf("beard: %s is %v, want null", k, v)
		}
	}
	if beard["verdict"] != "" {
		t.Errorf("beard: %v", beard["verdict"])
	}
	line := doc["sessions"].([]any)[0].(map[string]any)["zones"].([]any)[0].(map[string]any)
	for _, k := range []string{"zone", "do", "share", "minutes", "why"} {
		if v, ok := line[k]; !ok || v == nil {
			t.Errorf("line has no %s", k)
		}
	}
	empty, _ := json.Marshal(Plan{}.JSON(nil))
	if strings.Contains(string(empty), "null") {
		t.Errorf("a list is null: %s", empty)
	}
}

func TestTheSheetRunsFromTheRearOfTheJacketToTheHead(t *testing.T) {
	var in []Line
	for _, z := range timeline.Zones() {
		in = append(in, Line{Zone: z, Do: timeline.Tidy})
	}
	in = append(in, Line{Zone: timeline.Back, Do: timeline.Card})
	out := SheetOrder(in)
	place := map[timeline.Zone]int{}
	for i, l := range out {
		if l.Do != timeline.Card {
			place[l.Zone] = i
		}
	}
	if len(out) != len(in) || out[0].Do != timeline.Card {
		t.Fatal("carding comes first")
	}
	order := []timeline.Zone{timeline.Rump, timeline.Loin, timeline.Back, timeline.Withers, timeline.Foreleg, timeline.Ears}
	for i := 1; i < len(order); i++ {
		if place[order[i-1]] > place[order[i]] {
			t.Errorf("%s comes after %s", order[i-1], order[i])
		}
	}
}
