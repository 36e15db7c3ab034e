package demo

import (
	"context"
	"math/rand/v2"

	"thatch/imaging/align/marker"
	"thatch/imaging/measure"
	"thatch/imaging/phantom"
	"thatch/timeline"
)

// measuredDog is the dog of the cast whose last visits are photographed as photos that are to be measured: marker on the table,
// points and edges looked at, the coat read with a comb in all zones once and at the back after that.
const (
	measuredDog    = 0
	measuredVisits = 2
)

// measured prepares the shots of these visits, and tells how many there are.
func (b *builder) measured(shots []shot) (n int, err error) {
	img, width, height, err := marker.Card(marker.Text{Dog: b.dogs[measuredDog], SizeMM: marker.DefaultSizeMM}, marker.Labels{Name: b.roles[measuredDog].start.Name}, 4)
	if err != nil {
		return 0, err
	}
	board := &phantom.Board{Image: img, WidthMM: width, HeightMM: height, YMM: blockMM}
	first := len(b.roles[measuredDog].visits) - measuredVisits
	combed := map[int]bool{}
	for i := range shots {
		s := &shots[i]
		if s.role != measuredDog || s.visit < first || s.facing != timeline.SideLeft || s.state != timeline.CoatBrushedDown {
			continue
		}
		s.board, s.points = board, true
		n++
		if !s.after && !combed[s.visit] {
			combed[s.visit] = true
			s.combed = map[timeline.Zone]int{timeline.Back: 1}
			if s.visit == first {
				for _, z := range measure.Measured() {
					s.combed[z] = 3
				}
			}
		}
	}
	return n, nil
}

// blockMM is how high the block holds the card's lower edge.
const blockMM = 18

// comb reads the coat as a careful hand does, to a millimetre.
func (b *builder) comb(ctx context.Context, t taken) error {
	rng := rand.New(rand.NewPCG(t.seed, 3))
	mm := map[timeline.Zone][]float64{}
	for _, z := range timeline.Zones() { // in order: the hand's errors are drawn one after the other
		for range t.combed[z] {
			mm[z] = append(mm[z], max(0, t.truth.DepthMM[z]+rng.NormFloat64()))
		}
	}
	if len(mm) == 0 {
		return nil
	}
	_, err := b.s.AddCombs(ctx, b.dogs[t.role], t.day, timeline.PhaseStart, mm, true)
	return err
}

// edges finds the edges and says that they are right where drawn dogs' edges are found well.
func (b *builder) edges(ctx context.Context) error {
	right := []timeline.Zone{timeline.Crest, timeline.Withers, timeline.Back, timeline.Loin, timeline.Rump, timeline.Forechest, timeline.Thigh}
	what := timeline.Say("demo.edges", "dog", b.roles[measuredDog].start.Name)
	for i, id := range b.looked {
		b.tell(b.total-len(b.looked)+i, what)
		e, err := b.s.FindEdge(ctx, id, 0)
		if err != nil {
			return err
		}
		for _, z := range right {
			if e, err = b.s.SayOfEdge(ctx, id, e.Rev, "right", z); err != nil {
				return err
			}
		}
	}
	b.tell(b.total, what)
	return nil
}
