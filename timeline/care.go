package timeline

// Care is what is looked after besides the coat.
type Care string

const (
	CareNails Care = "nails"
	CareEars  Care = "ears"
	CareEyes  Care = "eyes"
	CarePads  Care = "pads" // and the hair between them
)

// Cares returns every kind, in the order of the table.
func Cares() []Care { return []Care{CareNails, CarePads, CareEyes, CareEars} }

// EveryDays is how often it is usually done; a dog may have an interval of her own. Common practice, no source.
func (c Care) EveryDays() int {
	switch c {
	case CareEyes, CareNails:
		return 14
	case CareEars, CarePads:
		return 28
	}
	return 0
}

// Lesson is one of a puppy's first lessons on the table.
type Lesson string

// Lessons returns every lesson from the first to the last: the one before is easy before the next begins. Common practice, no
// source.
func Lessons() []Lesson {
	return []Lesson{"lift", "stand", "feet", "face", "brush", "nail", "pull", "photo"}
}

// Sign is something that was seen on a dog and is for a veterinarian to look at, never for us to name.
type Sign string

const (
	SignThinning Sign = "thinning" // thinner on both sides alike
	SignPatches  Sign = "patches"  // places without hair
)

// Signs returns every sign.
func Signs() []Sign { return []Sign{SignThinning, SignPatches} }

// BagItem is a line of a show's bag: done on the dog, or packed.
type BagItem string

// BagItems returns every line, the dog's before the bag's. Common practice, no source; the kennel club's own rules decide.
func BagItems() []BagItem {
	return []BagItem{"chalk", "strays", "feet", "eyes", "lead", "comb", "towel", "water", "papers"}
}

// Noted is what was done, or seen, of a dog.
type Noted struct {
	Last  map[string]Day   // the newest day by what: a Care, "lesson_" and a Lesson, "sign_" and a Sign
	Every map[Care]int     // days, where she has an interval of her own; 0: not counted for her
	Bags  map[ID][]BagItem // ticked, by show
}

// What is noted under.
func (c Care) What() string   { return string(c) }
func (l Lesson) What() string { return "lesson_" + string(l) }
func (s Sign) What() string   { return "sign_" + string(s) }

// While a dog grows, a photo shows another dog's size soon. Common practice and judgement, no source.
const (
	GrowsDays    = 365 // a rough-coated terrier's height at the withers is reached by about a year
	OutgrownDays = 28  // of growth after which a photo or a height is not hers any more
)

// Growing reports whether a dog born on a day still grows on another. Who has no birthday is grown.
func Growing(born, on Day) bool { return !born.IsZero() && on < born+GrowsDays }

// Outgrown reports whether a dog has grown since a photo or a height of the day taken. Only days on which she grew count:
// of a dog of three years a photo of her eleventh month is good, one of her fifth is not.
func Outgrown(born, taken, on Day) bool {
	if born.IsZero() || taken.IsZero() {
		return false
	}
	return min(on, born+GrowsDays)-taken > OutgrownDays
}
