package phantom

// Colour is a palette and its markings.
type Colour string

const (
	White       Colour = "white"
	TanAndWhite Colour = "tan_and_white" // white, tan head and patches, dark saddle
	Grizzle     Colour = "grizzle"       // tan mixed with dark-tipped hair
	BlackAndTan Colour = "black_and_tan" // black jacket, tan head and legs
	RedWheaten  Colour = "red_wheaten"
)

// Colours returns every colour.
func Colours() []Colour { return []Colour{White, TanAndWhite, Grizzle, BlackAndTan, RedWheaten} }

// BuildParams is the proportions of a dog, all relative to the drawn standard of 1. The zero value means the standard.
type BuildParams struct {
	Leg  float64 // leg length (elbow to table), with the height at the withers kept; 0.85 to 1.1
	Body float64 // length of the trunk; 0.9 to 1.15
	Head float64 // size of the head; 0.85 to 1.15
	Neck float64 // length of the neck; 0.85 to 1.15
	Bone float64 // thickness of legs and tail; 0.85 to 1.2
}

func (b BuildParams) orStandard() BuildParams {
	for _, v := range []*float64{&b.Leg, &b.Body, &b.Head, &b.Neck, &b.Bone} {
		if *v == 0 {
			*v = 1
		}
	}
	return b
}

// Tail is how the tail is made and carried. The zero value means natural, carried up.
type Tail struct {
	LengthRatio float64 // of the height at the withers; 0 means 0.36
	ForwardDeg  float64 // of the carriage from upright, + over the back; −40 to 25
}

// Dog is one invented dog. WithersMM is the height of the skin at the withers above the table.
type Dog struct {
	Seed      int64
	WithersMM float64 // 0 means 350
	Build     BuildParams
	Colour    Colour // "" means TanAndWhite
	Tail      Tail
}
