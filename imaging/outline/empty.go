package outline

import (
	"image"
	"math"
	"slices"
)

const (
	emptyShiftBody = 0.02 // of the body's length: how far the camera may have moved between the two photos
	sureOutside    = 3.0  // standard deviations outside the guess from which on there is no dog
	leastEmpty     = 400  // pixels that must be surely outside to learn from
	mostEmpty      = 6.0  // what the difference may weigh for dog
	mostSame       = 3.0  // and against: a pale dog before a pale wall makes no difference either
	mostShade      = 1.5  // what a shadow weighs against
	darkestShadow  = 0.15 // of the light that a shadow leaves
	shadowHue      = 0.04 // how far a shadow may change the share of a colour in the light
	shadowRough    = 2.5  // how much rougher than noise the shade may be; coat is rougher
	sensorFloor    = 0.1  // of light, of which a sensor tells the share no longer for its noise
	mostGround     = 0.03 // of full scale: photos that differ by more where no dog is are not of the same place
)

// change says of each pixel, as the logarithm of a probability ratio, how much more what differs there from a photo of the
// empty place speaks for the dog than against it. far and loose are those of the guess: what is well outside it shows by how
// much the two photos are shifted, how much brighter one is in each colour, and how much they differ without a dog. A
// difference that a shadow makes, darker by as much in each colour and smoothly so (Horprasert, Harwood, Davis 1999, IEEE
// ICCV Frame-Rate Workshop), is none of the dog's.
//
// How much a dog differs is taken from well inside the guess. nil where the photo says nothing: too little of the picture is
// surely outside, or the photos differ there too, as those of two places do.
func change(img, empty *image.NRGBA, far, loose []float32, body float64) []float32 {
	w, h := img.Rect.Dx(), img.Rect.Dy()
	at := func(m *image.NRGBA, x, y int) [3]float64 {
		i := m.PixOffset(m.Rect.Min.X+min(max(x, 0), w-1), m.Rect.Min.Y+min(max(y, 0), h-1))
		return [3]float64{linear[m.Pix[i]], linear[m.Pix[i+1]], linear[m.Pix[i+2]]}
	}
	var outside, inside []int
	for p := range far {
		switch z := float64(far[p] / loose[p]); {
		case z < -sureOutside && p%3 == 0:
			outside = append(outside, p)
		case z > sureOutside && p%3 == 0:
			inside = append(inside, p)
		}
	}
	if len(outside) < leastEmpty {
		return nil
	}
	// Brightness first from the middles, then the shift, then brightness again where it is at home.
	gainAt := func(dx, dy int) (g tone) {
		for ch := range g {
			var ratios [toneSteps + 1][]float64
			var all []float64
			for _, p := range outside {
				a, b := at(img, p%w, p/w)[ch], at(empty, p%w+dx, p/w+dy)[ch]
				if b > 0.003 {
					i := int(math.Sqrt(b)*toneSteps + 0.5)
					ratios[i], all = append(ratios[i], a/b), append(all, a/b)
				}
			}
			whole := 1.0
			if len(all) > 0 {
				whole = median(all)
			}
			// Tones bend steadily: a brightness that is hardly seen out there lies on the line through the two nearest that are.
			var known []int
			for i, r := range ratios {
				if len(r) > 30 {
					known = append(known, i)
					g[ch][i] = median(r)
				}
			}
			for i := range ratios {
				if len(ratios[i]) <= 30 {
					g[ch][i] = along(known, g[ch][:], i, whole)
				}
			}
		}
		return g
	}
	gain := gainAt(0, 0)
	reach := max(2, int(emptyShiftBody*body))
	best, dx, dy := math.Inf(1), 0, 0
	for y := -reach; y <= reach; y++ {
		for x := -reach; x <= reach; x++ {
			sum := 0.0
			for i := 0; i < len(outside); i += 1 + len(outside)/4000 {
				p := outside[i]
				sum += min(apart(at(img, p%w, p/w), gain.of(at(empty, p%w+x, p/w+y))), 0.1)
			}
			if sum += 1e-6 * float64(x*x+y*y); sum < best {
				best, dx, dy = sum, x, y
			}
		}
	}
	gain = gainAt(dx, dy)
	there := make([][3]float64, w*h) // the empty place, in the light of the other photo
	for p := range there {
		there[p] = gain.of(at(empty, p%w+dx, p/w+dy))
	}
	// The least difference to what lies around there: half a pixel of shift is no change.
	diff := make([]float64, w*h)
	shade, light := make([]bool, w*h), make([]float32, w*h)
	for p := range diff {
		here, least := at(img, p%w, p/w), math.Inf(1)
		for y := max(p/w-1, 0); y <= min(p/w+1, h-1); y++ {
			for x := max(p%w-1, 0); x <= min(p%w+1, w-1); x++ {
				least = min(least, apart(here, there[y*w+x]))
			}
		}
		diff[p] = least
		shade[p] = shadow(here, there[p])
		light[p] = float32(math.Log((here[0] + here[1] + here[2] + sensorFloor) / (there[p][0] + there[p][1] + there[p][2] + sensorFloor)))
	}
	rough := roughness(light, w, h)
	sorted := func(of []int, v []float64) []float64 {
		some := make([]float64, len(of))
		for i, p := range of {
			some[i] = v[p]
		}
		slices.Sort(some)
		return some
	}
	// The length of a vector of three normal numbers is below 1.538 in half and below 2.50 in nine tenths of all cases (chi
	// distribution, three degrees of freedom). The tail tells more of what lamps and leaves do outside.
	beside := sorted(outside, diff)
	ground := max(beside[len(beside)/2]/1.538, beside[len(beside)*9/10]/2.50, 0.004)
	dog := 4 * ground
	if len(inside) >= leastEmpty/4 {
		dog = median(sorted(inside, diff)) / 1.538
	}
	if ground > mostGround || dog < 1.5*ground {
		return nil
	}
	smooth := shadowRough * max(median(sorted(outside, rough)), 0.002)
	out := make([]float32, w*h)
	for p, d := range diff {
		v := 3*math.Log(ground/dog) + d*d/2*(1/(ground*ground)-1/(dog*dog))
		if v > 0 && shade[p] {
			switch {
			case rough[p] < smooth:
				v = -mostShade
			case calmest(rough, p, w, h) < smooth: // beside the coat's edge either may be true
				v = 0
			}
		}
		out[p] = float32(min(max(v, -mostSame), mostEmpty))
	}
	return out
}

// along is v at i on the line through the two of known that are nearest to i; other where fewer are known.
func along(known []int, v []float64, i int, other float64) float64 {
	if len(known) < 2 {
		return other
	}
	at, _ := slices.BinarySearch(known, i)
	at = min(max(at, 1), len(known)-1)
	p, q := known[at-1], known[at]
	return v[p] + (v[q]-v[p])*float64(i-p)/float64(q-p)
}

// tone is how many times brighter one photo is than another, by colour and by the other's brightness: phones bend the tones
// of each photo as they like.
type tone [3][toneSteps + 1]float64

const toneSteps = 24

func (g *tone) of(v [3]float64) [3]float64 {
	for ch, l := range v {
		t := math.Sqrt(l) * toneSteps
		i := min(int(t), toneSteps-1)
		t -= float64(i)
		v[ch] = l * ((1-t)*g[ch][i] + t*g[ch][i+1])
	}
	return v
}

// apart is how different two lights are, by their square roots, which tell dark places apart about as well as an eye and a
// sensor do.
func apart(a, b [3]float64) (d float64) {
	for ch := range a {
		v := math.Sqrt(a[ch]) - math.Sqrt(b[ch])
		d += v * v
	}
	return math.Sqrt(d)
}

// shadow reports whether a is b in the shade.
func shadow(a, b [3]float64) bool {
	sa, sb := a[0]+a[1]+a[2], b[0]+b[1]+b[2]
	if sb <= 0 || sa > sb || sa < darkestShadow*sb {
		return false
	}
	for ch := range a {
		if math.Abs(a[ch]/sa-b[ch]/sb) > shadowHue {
			return false
		}
	}
	return true
}

// roughness is how much v differs from the middle of its four neighbours, root mean square over the 5 × 5 pixels around:
// slopes and soft edges are smooth by it.
func roughness(v []float32, w, h int) []float64 {
	square := make([]float64, len(v))
	for y := range h {
		for x := range w {
			up, down, left, right := max(y-1, 0)*w+x, min(y+1, h-1)*w+x, y*w+max(x-1, 0), y*w+min(x+1, w-1)
			d := float64(v[y*w+x] - (v[up]+v[down]+v[left]+v[right])/4)
			square[y*w+x] = d * d
		}
	}
	out := make([]float64, len(v))
	for y := range h {
		for x := range w {
			sum := 0.0
			for dy := -2; dy <= 2; dy++ {
				for dx := -2; dx <= 2; dx++ {
					sum += square[min(max(y+dy, 0), h-1)*w+min(max(x+dx, 0), w-1)]
				}
			}
			out[y*w+x] = math.Sqrt(sum / 25)
		}
	}
	return out
}

// calmest is the least of v as far around a pixel as a roughness looks.
func calmest(v []float64, p, w, h int) float64 {
	least := v[p]
	for y := max(p/w-2, 0); y <= min(p/w+2, h-1); y++ {
		for x := max(p%w-2, 0); x <= min(p%w+2, w-1); x++ {
			least = min(least, v[y*w+x])
		}
	}
	return least
}
