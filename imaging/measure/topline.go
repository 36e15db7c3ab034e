package measure

import (
	"math"

	"thatch/imaging/outline"
	"thatch/timeline"
)

// Place is one place of a topline.
type Place struct {
	AtMM float64 // from the withers towards the tail set, along the line
	MM   float64 // off the line, + high
	SDMM float64
	Zone timeline.Zone
}

// Shape is a topline beside the straight line through it. It needs no skin line and no reading by hand.
type Shape struct {
	LengthMM float64
	Places   []Place // every StepMM, none where the edge was not to be used
	Photos   [][]float64
	N        int // photos
}

// StepMM is the spacing of a topline's places.
const StepMM = 2.0

const (
	shapeEdgeSD  = 0.4 // of one photo's edge at one place, mm; on drawn dogs
	shapeWidthMM = 3.0 // half the stretch over which a place is read: a tuft is no shape
	leastPlaces  = 15
)

// Toplines tells the shape of the topline that photos of one sitting show together. A photo without withers, tail set or
// an edge over the back, or whose jacket is to be skipped, takes no part; ok is false where none is left. Standard
// deviations are those of the mean over the photos, their own spread among them: a dog bends.
func Toplines(shots []Shot) (Shape, bool) {
	var out Shape
	var all [][]Place
	for i := range shots {
		if p, ok := Topline(&shots[i]); ok {
			all = append(all, p)
		}
	}
	if len(all) == 0 {
		return out, false
	}
	n := math.MaxInt
	for _, p := range all {
		n = min(n, len(p))
	}
	out.N, out.LengthMM = len(all), float64(n-1)*StepMM
	for _, p := range all {
		row := make([]float64, n)
		for k := range n {
			row[k] = nth(p, k, n).MM
		}
		out.Photos = append(out.Photos, row)
	}
	for k := range n {
		var values []float64
		for _, row := range out.Photos {
			if !math.IsNaN(row[k]) {
				values = append(values, row[k])
			}
		}
		if len(values) == 0 {
			continue
		}
		mean, spread := meanAnd(values)
		m := float64(len(values))
		// One photo cannot tell how the dog bends; what photos differ by is usual.
		sd := math.Sqrt(square(shapeEdgeSD)/m + square(usualBendMM)/m)
		if len(values) > 1 {
			// The usual spread counts as two photos' worth.
			sd = math.Sqrt(square(shapeEdgeSD)/m + (spread*spread*(m-1)+2*square(usualBendMM))/(m+1)/m)
		}
		out.Places = append(out.Places, Place{AtMM: float64(k) * StepMM, MM: mean, SDMM: sd, Zone: nth(all[0], k, n).Zone})
	}
	return out, len(out.Places) >= leastPlaces
}

// usualBendMM is by how much the shape of a standing dog's back differs from photo to photo: judgement, until a salon has
// checked its own.
const usualBendMM = 1.5

// nth is the place at a share of the back: photos of a dog that is turned a little are a little shorter.
func nth(p []Place, k, n int) Place {
	if n == 1 {
		return p[0]
	}
	return p[int(math.Round(float64(k)*float64(len(p)-1)/float64(n-1)))]
}

// Topline is that of one photo, a place every StepMM from withers to tail set; MM is not a number where the edge there is
// not to be used.
func Topline(s *Shot) ([]Place, bool) {
	v, ok := newView(s)
	if !ok {
		return nil, false
	}
	c := v.walk
	from, to := c.mark[timeline.WithersPt], c.mark[timeline.TailSet]
	if to-from < 3 {
		return nil, false
	}
	// Along the line between the ends; the line itself is then a robust one.
	a, b := v.marks[timeline.WithersPt], v.marks[timeline.TailSet]
	long := math.Hypot(b.X-a.X, b.Y-a.Y)
	ux, uy := (b.X-a.X)/long, (b.Y-a.Y)/long
	n := int(long/StepMM) + 1
	places := make([]Place, n)
	sums, weights := make([]float64, n), make([]float64, n)
	zones := make([]timeline.Zone, n)
	before := math.Inf(-1)
	for k := from; k <= to; k++ {
		x, y := v.edge[k].X-a.X, v.edge[k].Y-a.Y
		along, off := x*ux+y*uy, -x*uy+y*ux
		z := v.zones[k]
		if k == to {
			z = timeline.Rump
		}
		if s.Skip[z] {
			before = math.Inf(-1)
			continue
		}
		// Every stretch of edge counts by its length, however its places are spaced.
		w := 1.0
		if !math.IsInf(before, -1) {
			w = math.Max(0.05, math.Abs(along-before))
		}
		before = along
		for m := max(0, int((along-shapeWidthMM)/StepMM)); m < n && float64(m)*StepMM < along+shapeWidthMM; m++ {
			if near := 1 - math.Abs(float64(m)*StepMM-along)/shapeWidthMM; near > 0 {
				sums[m] += w * near * off
				weights[m] += w * near
			}
		}
		if m := int(math.Round(along / StepMM)); m >= 0 && m < n {
			zones[m] = z
		}
	}
	var xs, ys []float64
	for m := range places {
		places[m] = Place{AtMM: float64(m) * StepMM, MM: math.NaN(), SDMM: shapeEdgeSD, Zone: zones[m]}
		if zones[m] == "" && m > 0 {
			places[m].Zone = places[m-1].Zone
		}
		if weights[m] > 0 {
			places[m].MM = sums[m] / weights[m]
			xs, ys = append(xs, places[m].AtMM), append(ys, places[m].MM)
		}
	}
	if len(xs) < leastPlaces {
		return nil, false
	}
	slope, height := outline.RobustLine(xs, ys)
	across := math.Hypot(1, slope)
	for m := range places {
		places[m].MM = (places[m].MM - slope*places[m].AtMM - height) / across
	}
	return places, true
}

func meanAnd(v []float64) (mean, sd float64) {
	for _, x := range v {
		mean += x / float64(len(v))
	}
	if len(v) < 2 {
		return mean, 0
	}
	for _, x := range v {
		sd += square(x-mean) / float64(len(v)-1)
	}
	return mean, math.Sqrt(sd)
}
