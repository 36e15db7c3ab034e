package timeline

import "testing"

func TestAPhotoShowsHerSizeForAsLongAsSheHasNotGrownSince(t *testing.T) {
	born := Date(2025, 1, 1)
	year := born + GrowsDays
	for _, c := range []struct {
		name      string
		born      Day
		taken, on Day
		outgrown  bool
	}{
		{"nobody knows when she was born", 0, born + 60, born + 300, false},
		{"nobody knows when it was taken", born, 0, born + 300, false},
		{"four weeks in her fourth month", born, born + 100, born + 128, false},
		{"a day more", born, born + 100, born + 129, true},
		{"her fifth month, seen as a dog of three", born, born + 140, born + 3*365, true},
		{"her eleventh month, seen as a dog of three", born, year - 20, born + 3*365, false},
		{"her first birthday, years later", born, year, born + 5*365, false},
		{"both of a grown dog", born, born + 500, born + 900, false},
		{"the same day", born, born + 100, born + 100, false},
	} {
		if got := Outgrown(c.born, c.taken, c.on); got != c.outgrown {
			t.Errorf("%s: %t", c.name, got)
		}
	}
	if !Growing(born, year-1) || Growing(born, year) || Growing(0, year) {
		t.Error("she grows until the day of her first birthday, if anybody knows it")
	}
}

func TestEveryKindOfCareHasAUsualInterval(t *testing.T) {
	for _, c := range Cares() {
		if c.EveryDays() < 7 || c.EveryDays() > 60 {
			t.Errorf("%s every %d days", c, c.EveryDays())
		}
	}
	if Care("coat").EveryDays() != 0 {
		t.Error("what is no care has an interval")
	}
}
