package words

import (
	"math"
	"testing"

	"thatch/timeline"
)

// E: 1, ¾, ½ and ¼ inch are 25.4, 19.05, 12.7 and 6.35 mm: the inch is 25.4 mm exactly (international inch, 1959; ISO 31-1).
func TestInchesAreExact(t *testing.T) {
	in := Speaker{Units: Inches}
	for _, c := range []struct {
		text string
		mm   float64
	}{{"1", 25.4}, {"3/4", 19.05}, {"1/2", 12.7}, {"1/4", 6.35}, {"1 1/4", 31.75}, {"¾", 19.05}, {"1 ¼ in", 31.75}, {"1.5", 38.1}, {"0,5", 12.7}, {"12 mm", 12}, {"2 cm", 20}} {
		got, err := in.ParseLength(c.text)
		if err != nil || math.Abs(got-c.mm) > 1e-12 {
			t.Errorf("ParseLength(%q) = %v, %v; want %v", c.text, got, err, c.mm)
		}
	}
}

func TestWhatIsWrittenCanBeReadBack(t *testing.T) {
	for _, units := range []Units{Millimetres, Inches} {
		s := Speaker{Units: units}
		for n := 0; n <= 16*8; n++ {
			mm := float64(n) / 16 * MMPerInch
			if units == Millimetres {
				mm = float64(n) / 2
			}
			got, err := s.ParseLength(s.Length(mm))
			if err != nil || math.Abs(got-mm) > 1e-9 {
				t.Fatalf("%v mm is written %q and read back as %v, %v", mm, s.Length(mm), got, err)
			}
		}
	}
}

func TestALengthOfAPageDoesNotBreakFromItsUnit(t *testing.T) {
	for _, c := range []struct {
		s    Speaker
		want string
	}{
		{Speaker{Unbroken: true}, "235\u00a0mm"},
		{Speaker{Unbroken: true, Units: Inches}, "9\u00a0¼\u00a0in"},
		{Speaker{}, "235 mm"},
		{Speaker{Units: Inches}, "9 ¼ in"},
	} {
		got := c.s.Length(235)
		if got != c.want {
			t.Errorf("%+v writes %q, want %q", c.s, got, c.want)
		}
		if mm, err := c.s.ParseLength(got); err != nil || math.Abs(mm-235) > MMPerInch/32 {
			t.Errorf("%q is read back as %v, %v", got, mm, err)
		}
	}
}

func TestANonsenseLengthIsRefused(t *testing.T) {
	for _, text := range []string{"", " ", "abc", "-3", "1/0", "1e3", "NaN", "inf", "1 2", "1/2/3", "99999", "mm", "3 4 5", "½ ½"} {
		if got, err := (Speaker{}).ParseLength(text); err == nil {
			t.Errorf("ParseLength(%q) = %v, want a refusal", text, got)
		}
	}
}

func FuzzParseLength(f *testing.F) {
	for _, s := range []string{"12", "1 1/4", "¾", "12 mm", "1,5"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		for _, u := range []Units{Millimetres, Inches} {
			if mm, err := (Speaker{Units: u}).ParseLength(s); err == nil && !(mm >= 0 && mm <= 2000) {
				t.Fatalf("%q gives %v", s, mm)
			}
		}
	})
}

func TestEveryWordOfTheVocabularyIsInTheCatalogue(t *testing.T) {
	s := Speaker{Lang: "en"}
	var keys []string
	add := func(prefix string, v string) { keys = append(keys, prefix+"."+v) }
	for _, z := range timeline.Zones() {
		add("zone", string(z))
	}
	for _, g := range timeline.Groups() {
		add("group", string(g))
	}
	for _, p := range timeline.Points() {
		add("point", string(p))
	}
	for _, v := range timeline.Works() {
		add("work", string(v))
	}
	for _, v := range timeline.Tools() {
		add("tool", string(v))
	}
	for _, v := range timeline.Ripenesses() {
		add("ripeness", string(v))
	}
	for _, v := range timeline.Covers() {
		add("cover", string(v))
	}
	for _, v := range timeline.HairChecks() {
		add("hair_check", string(v))
	}
	for _, v := range timeline.Skins() {
		add("skin", string(v))
	}
	for _, v := range timeline.Lofts() {
		add("loft", string(v))
	}
	for _, v := range timeline.Sides() {
		add("side", string(v))
	}
	for _, v := range timeline.Phases() {
		add("phase", string(v))
	}
	for _, v := range timeline.CoatStates() {
		add("coat_state", string(v))
	}
	for _, v := range timeline.Undercoats() {
		add("undercoat", string(v))
	}
	for _, v := range timeline.Textures() {
		add("texture", string(v))
	}
	for _, k := range keys {
		if !s.Has(k) {
			t.Errorf("the catalogue lacks %q", k)
		}
	}
}

func TestPluralsAndValues(t *testing.T) {
	catalogues["en"]["test.days.one"] = "{n} day to {show}"
	catalogues["en"]["test.days.other"] = "{n} days to {show}, {len}"
	defer delete(catalogues["en"], "test.days.one")
	defer delete(catalogues["en"], "test.days.other")
	s := Speaker{}
	if got := s.T("test.days", "n", 1, "show", "Spring"); got != "1 day to Spring" {
		t.Error(got)
	}
	if got := s.T("test.days", "n", 12, "show", "Spring", "len", timeline.LengthMM(12.4)); got != "12 days to Spring, 12.5 mm" {
		t.Error(got)
	}
}
