package pages

import (
	"regexp"
	"strconv"
	"testing"

	"thatch/timeline"
	"thatch/timeline/plan"
)

// The hair on the strip is shortest on the day of a visit and grows until the next, and never past the dots of the visits' line.
func TestHairOnTheStripGrowsBetweenVisits(t *testing.T) {
	first := timeline.Day(20000)
	d := stripHair(first, first+60, []plan.Session{{On: first + 10}, {On: first + 24}}, func(d timeline.Day) int { return int(d-first) * stripDayPX })
	high := map[int]int{} // of the first hair of a day
	for i, m := range regexp.MustCompile(`M(\d+) \d+l\d+-(\d+)`).FindAllStringSubmatch(d, -1) {
		n, _ := strconv.Atoi(m[2])
		if n > stripHairPX+stripHairDayPX*stripHairDays || n < 1 {
			t.Errorf("hair %d is %d px high", i, n)
		}
		if i%2 == 0 {
			high[i/2] = n
		}
	}
	if len(high) != 61 || high[10] > stripHairPX || high[24] > stripHairPX || high[23] < high[12]+10 || high[60] < high[30]+10 || high[9] < 30 {
		t.Errorf("%d days: before the first visit %d, on it %d, after it %d, before the next %d, at the end %d", len(high), high[9], high[10], high[12], high[23], high[60])
	}
}
