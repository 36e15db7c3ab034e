package main

import (
	"bytes"
	"strings"
	"testing"
)

// Scripts read what is printed: the machine's own language must not change it, only a variable of ours.
func TestTheCommandLineSpeaksEnglishUnlessItIsToldOtherwise(t *testing.T) {
	nowhere := t.TempDir() + "/none"
	said := func() string {
		var out, told bytes.Buffer
		run(t.Context(), []string{"dogs", "--data", nowhere}, &out, &told)
		run(t.Context(), []string{"--help"}, &out, &told)
		return out.String() + told.String()
	}
	t.Setenv("LANG", "de_DE.UTF-8")
	t.Setenv("LC_ALL", "de_DE.UTF-8")
	t.Setenv("LANGUAGE", "de")
	t.Setenv(langVariable, "")
	english := said()
	t.Setenv(langVariable, "de")
	german := said()
	t.Setenv(langVariable, "xx")
	if got := said(); got != english {
		t.Errorf("a language that there is not changes what is said:\n%s", got)
	}
	if english == german || !strings.Contains(english, "Serve") || strings.Contains(german, "Serve the salon") {
		t.Errorf("in English:\n%s\nin German:\n%s", english, german)
	}
}
