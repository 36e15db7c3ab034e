package align

// Status says why a fit was refused. It is an error; a fit that succeeded has none.
type Status string

const (
	TooFew      Status = "too_few"      // fewer than two points, or fewer than two with weight
	Unequal     Status = "unequal"      // the lists differ in length
	NotFinite   Status = "not_finite"   // a coordinate is NaN or infinite
	BadWeights  Status = "bad_weights"  // a weight is negative or not finite
	Coincident  Status = "coincident"   // the points lie on one spot: no scale, no turn
	NoAgreement Status = "no_agreement" // fewer than half of the points agree on any transform
)

func (s Status) Error() string { return "similarity not fitted: " + string(s) }

// Fit is what Robust found.
type Fit struct {
	Similarity  Similarity
	ResidualsPX []float64 // distance of each mapped src from its dst, px of dst
	Inlier      []bool    // took part in the last least squares
	SigmaPX     float64   // robust standard deviation of a residual's coordinate, px
}
