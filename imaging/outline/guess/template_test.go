package guess

import (
	"bytes"
	"flag"
	"fmt"
	"go/format"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"testing"

	"thatch/imaging/phantom"
	"thatch/timeline"
)

var update = flag.Bool("update", false, "write the template's table anew")

const (
	measuredDogs = 240
	measuredFrom = 910_000 // seeds that no other test uses
	cornerStep   = 0.035   // bodies
)

// standing is a drawn dog of the seed in one of its poses, without its picture; the camera stands anywhere near.
func standing(seed int64, w, h int) (phantom.Dog, phantom.Coat, phantom.Pose, phantom.Camera) {
	dog := phantom.RandomDog(seed)
	rng := rand.New(rand.NewPCG(uint64(seed), 0x9e55))
	coat := phantom.Overgrown(20+28*rng.Float64()).Toward(phantom.RingReady(14+10*rng.Float64()), rng.Float64())
	pose := phantom.RandomPose(rng)
	if rng.IntN(2) == 1 {
		pose.Facing = timeline.SideRight
	}
	return dog, coat, pose, phantom.Frame(dog, w, h).Held(rng)
}

// laidOut are the edges of a drawn dog, each stretch between two landmarks or zones with as many corners as in every other.
func laidOut(tr phantom.Truth, count func(stretch int, length float64) int) (parts [][]XY, ok bool) {
	type stretch struct {
		zone timeline.Zone
		from int
	}
	var cuts []stretch
	for i, z := range tr.OutlineZones {
		if i == 0 || z != tr.OutlineZones[i-1] {
			cuts = append(cuts, stretch{z, i})
		}
	}
	want := []timeline.Zone{"", timeline.Skull, timeline.Crest, timeline.Withers, timeline.Back, timeline.Loin, timeline.Rump, timeline.Tail, timeline.Thigh, timeline.Hindleg, "", timeline.Hindleg, timeline.Underline, timeline.Foreleg, "", timeline.Foreleg, timeline.Forechest, timeline.Throat, "", timeline.Beard, ""}
	if len(cuts) != len(want) {
		return nil, false
	}
	var at []int
	for i, c := range cuts {
		if c.zone != want[i] {
			return nil, false
		}
		at = append(at, c.from)
	}
	// The tip of the tail, and the points within a zone.
	tail, far := at[7], 0.0
	for i := at[7]; i < at[8]; i++ {
		if d := dist(tr.Outline[i], tr.Landmarks[timeline.TailSet]); d > far {
			tail, far = i, d
		}
	}
	at = append(at, tail)
	for _, p := range []timeline.Point{timeline.Buttock, timeline.Hock, timeline.HindPaw, timeline.FrontPaw, timeline.Prosternum, timeline.MidBack} {
		at = append(at, nearestTo(tr.Outline, tr.Landmarks[p]))
	}
	slices.Sort(at)
	at = slices.Compact(at)
	n := 0
	along := func(line []XY) (out []XY) {
		length := 0.0
		for i := 1; i < len(line); i++ {
			length += dist(line[i], line[i-1])
		}
		k := count(n, length)
		n++
		done, i := 0.0, 1
		for j := range k {
			for i < len(line)-1 && done+dist(line[i], line[i-1]) < length*float64(j)/float64(k) {
				done += dist(line[i], line[i-1])
				i++
			}
			l := dist(line[i], line[i-1])
			t := 0.0
			if l > 0 {
				t = (length*float64(j)/float64(k) - done) / l
			}
			out = append(out, XY{X: line[i-1].X + t*(line[i].X-line[i-1].X), Y: line[i-1].Y + t*(line[i].Y-line[i-1].Y)})
		}
		return out
	}
	var near []XY
	for i, from := range at {
		if i+1 < len(at) {
			near = append(near, along(tr.Outline[from:at[i+1]+1])...)
		} else {
			near = append(near, along(append(slices.Clone(tr.Outline[from:]), tr.Outline[0]))...)
		}
	}
	parts = append(parts, near)
	for _, leg := range tr.Far {
		parts = append(parts, along(append(slices.Clone(leg), leg[0])))
	}
	return parts, true
}

func dist(a, b XY) float64 { return math.Hypot(a.X-b.X, a.Y-b.Y) }

func nearestTo(line []XY, p XY) int {
	best, at := math.Inf(1), 0
	for i, q := range line {
		if d := dist(p, q); d < best {
			best, at = d, i
		}
	}
	return at
}

// measured makes the template from drawn dogs: each is brought to the same place and size by its points (generalised
// Procrustes analysis: Gower 1975, Psychometrika 40:33–51), all are averaged, and the spread of a corner is what is left
// when the mean is fitted to each dog's points.
func measured(t *testing.T) *template {
	type dog struct {
		lm    timeline.Landmarks
		parts [][]XY
		right bool
	}
	var dogs []dog
	var counts []int
	bodyOf := 0.0 // of the dog that is laid out, px
	count := func(n int, length float64) int {
		if n == len(counts) {
			counts = append(counts, max(1, int(math.Round(length/cornerStep/bodyOf))))
		}
		return counts[n]
	}
	for seed := range int64(measuredDogs) {
		tr := phantom.TruthOf(standing(measuredFrom+seed, 640, 480))
		bodyOf = dist(tr.Landmarks[timeline.Prosternum], tr.Landmarks[timeline.Buttock])
		parts, ok := laidOut(tr, count)
		if !ok {
			continue
		}
		dogs = append(dogs, dog{tr.Landmarks, parts, tr.Facing == timeline.SideRight})
	}
	if len(dogs) < measuredDogs*9/10 {
		t.Fatalf("%d of %d dogs could be laid out", len(dogs), measuredDogs)
	}
	names := timeline.Points()
	mean := make([]XY, len(names))
	first := dogs[0]
	for i, p := range names {
		q := first.lm[p]
		if first.right {
			q.X = -q.X
		}
		mean[i] = q
	}
	at := func(d dog) similarity {
		from := make([]XY, len(names))
		for i, p := range names {
			from[i] = d.lm[p]
		}
		s, _ := bestSimilarity(from, mean, d.right)
		return s
	}
	for range 6 {
		sum := make([]XY, len(names))
		for _, d := range dogs {
			s := at(d)
			for i, p := range names {
				q := s.to(d.lm[p])
				sum[i].X, sum[i].Y = sum[i].X+q.X/float64(len(dogs)), sum[i].Y+q.Y/float64(len(dogs))
			}
		}
		// Its unit and origin, the back level.
		var c XY
		for _, p := range sum {
			c.X, c.Y = c.X+p.X/float64(len(sum)), c.Y+p.Y/float64(len(sum))
		}
		unit := dist(sum[slices.Index(names, timeline.Prosternum)], sum[slices.Index(names, timeline.Buttock)])
		paw, hind := sum[slices.Index(names, timeline.FrontPaw)], sum[slices.Index(names, timeline.HindPaw)]
		sin, cos := math.Sincos(-math.Atan2(hind.Y-paw.Y, hind.X-paw.X))
		for i, p := range sum {
			x, y := (p.X-c.X)/unit, (p.Y-c.Y)/unit
			mean[i] = XY{X: x*cos - y*sin, Y: x*sin + y*cos}
		}
	}
	out := &template{}
	for i, p := range names {
		out.marks = append(out.marks, mark{p, mean[i].X, mean[i].Y})
	}
	for i, part := range dogs[0].parts {
		cs := make([]corner, len(part))
		for _, d := range dogs {
			s := at(d)
			for j, p := range d.parts[i] {
				q := s.to(p)
				cs[j].x += q.X / float64(len(dogs))
				cs[j].y += q.Y / float64(len(dogs))
			}
		}
		out.parts = append(out.parts, cs)
	}
	for _, d := range dogs {
		f, ok := out.fit(d.lm, d.right)
		if !ok {
			t.Fatal("the template does not fit its own dogs")
		}
		for i, part := range out.parts {
			n := len(part)
			for j := range part {
				p, _ := f.place(part[j].x, part[j].y)
				// Across the edge only: along it a corner may slide.
				a, b := d.parts[i][(j+n-1)%n], d.parts[i][(j+1)%n]
				q := d.parts[i][j]
				across := ((p.X-q.X)*(b.Y-a.Y) - (p.Y-q.Y)*(b.X-a.X)) / dist(a, b) / f.pose.scale()
				part[j].sd += across * across / float64(len(dogs))
			}
		}
	}
	for _, part := range out.parts {
		for j := range part {
			part[j].sd = math.Sqrt(part[j].sd)
		}
	}
	return out
}

// The table is what is measured on the drawn dogs of today; where their drawing changes by more than a little, run with
// -update.
func TestTheTemplateIsTheMeanOfDrawnDogs(t *testing.T) {
	got := measured(t)
	if *update {
		var b bytes.Buffer
		fmt.Fprintf(&b, "package guess\n\nimport \"thatch/timeline\"\n\n// Measured on %d drawn dogs: go test -run Template ./imaging/outline/guess -update\nvar drawn = &template{\nmarks: []mark{\n", measuredDogs)
		for _, m := range got.marks {
			fmt.Fprintf(&b, "{timeline.%s, %.4f, %.4f},\n", map[timeline.Point]string{timeline.Nose: "Nose", timeline.Eye: "Eye", timeline.Occiput: "Occiput", timeline.WithersPt: "WithersPt", timeline.MidBack: "MidBack", timeline.TailSet: "TailSet", timeline.Buttock: "Buttock", timeline.Prosternum: "Prosternum", timeline.Elbow: "Elbow", timeline.Hock: "Hock", timeline.FrontPaw: "FrontPaw", timeline.HindPaw: "HindPaw"}[m.point], m.x, m.y)
		}
		fmt.Fprint(&b, "},\nparts: [][]corner{\n")
		for _, part := range got.parts {
			fmt.Fprint(&b, "{\n")
			for i, c := range part {
				fmt.Fprintf(&b, "{%.3f, %.3f, %.4f},", c.x, c.y, c.sd)
				if i%5 == 4 || i == len(part)-1 {
					fmt.Fprint(&b, "\n")
				}
			}
			fmt.Fprint(&b, "},\n")
		}
		fmt.Fprint(&b, "},\n}\n")
		src, err := format.Source(b.Bytes())
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile("template_table.go", src, 0o600); err != nil {
			t.Fatal(err)
		}
		return
	}
	if len(got.marks) != len(drawn.marks) || len(got.parts) != len(drawn.parts) {
		t.Fatalf("%d points and %d parts, the table has %d and %d", len(got.marks), len(got.parts), len(drawn.marks), len(drawn.parts))
	}
	const near = 0.002 // bodies: the table is rounded, and sums differ between processors
	for i, m := range got.marks {
		if w := drawn.marks[i]; w.point != m.point || math.Hypot(w.x-m.x, w.y-m.y) > near {
			t.Errorf("%s: measured at %.4f %.4f, the table has %s at %.4f %.4f", m.point, m.x, m.y, w.point, w.x, w.y)
		}
	}
	for i, part := range got.parts {
		if len(part) != len(drawn.parts[i]) {
			t.Fatalf("part %d has %d corners, in the table %d", i, len(part), len(drawn.parts[i]))
		}
		for j, c := range part {
			if w := drawn.parts[i][j]; math.Hypot(w.x-c.x, w.y-c.y) > near || math.Abs(w.sd-c.sd) > near {
				t.Errorf("part %d corner %d: measured %+v, the table has %+v", i, j, c, w)
			}
		}
	}
}
