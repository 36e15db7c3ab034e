package phantom

import "image"

// Shot is one picture of a sample set.
type Shot struct {
	Name      string // "dog1-session2-photo3.jpg"
	Img       *image.NRGBA
	Truth     Truth
	Dog       Dog
	DogIndex  int
	Session   int
	DayOffset int // days after the first session
}
