package outline

import (
	"image"
	"math"
	"math/rand/v2"

	"thatch/imaging"
)

// Weights of the cut, in units of the logarithm of a probability ratio. Found on photos with hand-drawn masks: a third more
// or less of what place, looks or edge weigh changes the mean overlap there by less than 0.01.
const (
	lookAt       = 4.0     // standard deviations from the guess at which a pixel is no longer in question
	weightPlace  = 1.75    // of where a pixel lies to the guess: near the edge, the logarithm of the odds of a normal error
	weightNear   = 0.8     // of how it looks beside what lies near it
	weightWhole  = 0.9     // of how it looks beside the whole dog and its surroundings
	weightChange = 2.0     // of how it differs from the empty place
	edgePrice    = 7.0     // of a pixel of edge where there is no contrast and the body is edgeBodyPX long
	edgeBodyPX   = 300     //
	mostPlace    = 6.0     // no single argument is worth more
	mostNear     = 12.0    //
	mostWhole    = 8.0     //
	nearParts    = 18      // of the mixtures over colour and place
	wholeParts   = 5       // of the mixtures over colour
	placeUnit    = 0.05    // of colour that a 512th of the body's length is worth
	surroundings = 0.25    // of the body's length: what background is learned from
	firstRounds  = 3       // about the guess
	laterRounds  = 2       // about the answer to it
	laterSD      = 0.03    // of the body's length: how far that answer may be off
	unit         = 64      // of capacity, for 1
	certain      = 1 << 24 // capacity of what is not in question
)

// sensorVariance is the least variance of L*, a*, b* and place that looks are told apart by.
var sensorVariance = []float64{4, 2, 2, 4, 4}

// cut parts the dog from its background: the labelling of pixels that is most probable by where they lie to the guess, by
// what they look like, and by how much edge it makes, learned again from each answer (Rother, Kolmogorov, Blake 2004, ACM
// Trans. Graph. 23(3):309–314). Looks are mixtures over colour and place together, so that a white leg is told from a grey
// wall by what lies beside it, whatever else is white in the picture.
//
// polygon and body, the length of the body, are in pixels of img.
func cut(img *image.NRGBA, polygon []XY, body float64, guess Guess) (dog []bool, emptySays bool) {
	c := newCutter(img, body)
	c.now = Fill([][]XY{polygon}, c.w, c.h)
	c.far, c.loose = nearestEdge(polygon, c.now, c.w, c.h, func(i int) float64 { return guess.cornerSD(i) * body }, guess.Sag/body)
	if guess.Empty != nil {
		c.change = change(img, guess.Empty, c.far, c.loose, body)
		for p, v := range c.change { // what to learn from, to begin with
			if open, z := c.open(p); open {
				c.now[p] = weightPlace*z+weightChange*float64(v) > 0
			}
		}
	}
	c.search(firstRounds)
	if guess.meanSD() > laterSD {
		c.again()
	}
	return largest(c.now, c.w, c.h), c.change != nil
}

// again searches about the answer to a rough guess: it is a guess, too, a better one, and may lead on to what the first
// one cut off, a tail or a foot. About a guess that was as good it would only forget what that one said.
func (c *cutter) again() {
	edge := rings(largest(c.now, c.w, c.h), c.w, c.h)
	if len(edge) == 0 {
		return
	}
	c.now = Fill(edge, c.w, c.h)
	far, loose := nearestEdge(edge[0], c.now, c.w, c.h, func(int) float64 { return laterSD * c.body }, 0)
	for p := range far {
		// Both say where the edge is, each as well as it can.
		first, later := 1/(c.loose[p]*c.loose[p]), 1/(loose[p]*loose[p])
		far[p] = (c.far[p]*first + far[p]*later) / (first + later)
		loose[p] = min(loose[p], c.loose[p])
	}
	c.far, c.loose = far, loose
	c.search(laterRounds)
}

// search looks for the edge around what far and loose say, a number of times or until next to nothing changes.
func (c *cutter) search(rounds int) {
	c.priceEdges()
	for round := range rounds {
		c.learn(round)
		if c.solve() < int(c.body)/500 {
			return
		}
	}
}

type cutter struct {
	w, h  int
	lab   []float32 // L*, a*, b* by pixel
	body  float64
	far   []float32 // signed distance from the guess, px
	loose []float32 // its standard deviation, px
	price []int32   // of the edge to the neighbours right to down left
	grid  *grid
	rng   *rand.Rand
	now   []bool // the answer so far
	// change is what a photo of the empty place says for the dog; nil where there is none.
	change []float32

	nearDog, nearGround, wholeDog, wholeGround *mixture
}

func newCutter(img *image.NRGBA, body float64) *cutter {
	w, h := img.Rect.Dx(), img.Rect.Dy()
	return &cutter{
		w: w, h: h, lab: imaging.Lab(img), body: body, grid: newGrid(w, h),
		rng: rand.New(rand.NewPCG(1, 1)), // the same picture is cut the same way
	}
}

// open reports whether a pixel is in question, and how many standard deviations it lies inside the guess.
func (c *cutter) open(p int) (bool, float64) {
	z := float64(c.far[p] / c.loose[p])
	return math.Abs(z) < lookAt, z
}

func (c *cutter) contrast(p, q int) float64 {
	a, b := c.lab[3*p:3*p+3], c.lab[3*q:3*q+3]
	x, y, z := float64(a[0]-b[0]), float64(a[1]-b[1]), float64(a[2]-b[2])
	return x*x + y*y + z*z
}

// priceEdges lets an edge cost less where there is contrast (Boykov, Jolly 2001, ICCV). In a larger picture the same edge
// has more pixels but parts still more of them, so each costs more.
func (c *cutter) priceEdges() {
	sum, n := 0.0, 0
	for y := range c.h - 1 {
		for x := range c.w - 1 {
			p := y*c.w + x
			if open, _ := c.open(p); open {
				sum += c.contrast(p, p+1) + c.contrast(p, p+c.w)
				n += 2
			}
		}
	}
	beta := 1 / (2*sum/float64(max(n, 1)) + 1e-9)
	price := unit * edgePrice * c.body / edgeBodyPX
	c.price = make([]int32, 4*c.w*c.h)
	for y := range c.h {
		for x := range c.w {
			p := y*c.w + x
			if math.Abs(float64(c.far[p])) > lookAt*float64(c.loose[p])+2 {
				continue
			}
			for dir := range 4 {
				xx, yy := x+steps[dir][0], y+steps[dir][1]
				if xx < 0 || xx >= c.w || yy >= c.h {
					continue
				}
				long := 1.0
				if dir%2 == 1 {
					long = math.Sqrt2
				}
				c.price[4*p+dir] = int32(price / long * math.Exp(-beta*c.contrast(p, yy*c.w+xx)))
			}
		}
	}
}

// look is a pixel's colour and place.
func (c *cutter) look(p int) [5]float32 {
	place := placeUnit * workPX / c.body
	return [5]float32{c.lab[3*p], c.lab[3*p+1], c.lab[3*p+2], float32(float64(p%c.w) * place), float32(float64(p/c.w) * place)}
}

// learn fits what dog and surroundings look like by the answer so far, from every fourth pixel.
func (c *cutter) learn(round int) {
	var dog, ground, dogColour, groundColour []float32
	for p, is := range c.now {
		if !is && float64(-c.far[p]) > surroundings*c.body || (p%c.w+p/c.w*7)%4 != round%4 {
			continue
		}
		l := c.look(p)
		if is {
			dog, dogColour = append(dog, l[:]...), append(dogColour, l[:3]...)
		} else {
			ground, groundColour = append(ground, l[:]...), append(groundColour, l[:3]...)
		}
	}
	const rounds = 2
	c.nearDog = fitMixture(dog, 5, nearParts, sensorVariance, rounds, c.rng)
	c.nearGround = fitMixture(ground, 5, nearParts, sensorVariance, rounds, c.rng)
	c.wholeDog = fitMixture(dogColour, 3, wholeParts, sensorVariance[:3], rounds, c.rng)
	c.wholeGround = fitMixture(groundColour, 3, wholeParts, sensorVariance[:3], rounds, c.rng)
}

// solve makes the next answer and returns how many pixels it changes.
func (c *cutter) solve() (changed int) {
	g := c.grid
	g.clear()
	most := func(v, most float64) float64 { return min(max(v, -most), most) }
	for p := range c.now {
		if math.Abs(float64(c.far[p])) > lookAt*float64(c.loose[p])+2 {
			continue
		}
		g.in[p] = true
		open, z := c.open(p)
		if !open {
			g.ends[p] = int32(math.Copysign(certain, z))
			continue
		}
		l := c.look(p)
		v := weightPlace*most(z, mostPlace) +
			weightNear*most(c.nearDog.logDensity(l[:])-c.nearGround.logDensity(l[:]), mostNear) +
			weightWhole*most(c.wholeDog.logDensity(l[:3])-c.wholeGround.logDensity(l[:3]), mostWhole)
		if c.change != nil {
			v += weightChange * float64(c.change[p])
		}
		g.ends[p] = int32(math.Round(unit * v))
	}
	for p := range c.now {
		if !g.in[p] {
			continue
		}
		for dir := range 4 {
			x, y := p%c.w+steps[dir][0], p/c.w+steps[dir][1]
			if x >= 0 && x < c.w && y < c.h && g.in[y*c.w+x] {
				g.join(p, dir, c.price[4*p+dir])
			}
		}
	}
	dog := g.solve()
	for p, was := range c.now {
		is := c.far[p] > 0
		if g.in[p] {
			is = dog[p]
		}
		if is != was {
			c.now[p] = is
			changed++
		}
	}
	return changed
}
