package phantom

import (
	"math"
	"slices"
	"testing"

	"thatch/timeline"
)

func TestSittingsKeepTheCoatAndMoveTheRest(t *testing.T) {
	sittings, exact, bumps := 0, 0, 0
	lo, hi := math.Inf(1), math.Inf(-1)
	for s := range Sittings(31, 20, Standing) {
		sittings++
		if len(s.Shots) != 3 {
			t.Fatalf("%d shots", len(s.Shots))
		}
		uneven := false
		for z, c := range s.Coat {
			lo, hi = min(lo, c.LengthMM), max(hi, c.LengthMM)
			uneven = uneven || c.Uneven.BumpMM != 0
			if w := c.Uneven.WaveMM; w < 0.5 || w > 1.5 {
				t.Errorf("%s: waves of %.2f mm", z, w)
			}
		}
		if uneven {
			bumps++
		}
		for _, mm := range s.ChangeMM {
			if math.Abs(mm) == 3 {
				exact++
			}
			if math.Abs(mm) > 6 {
				t.Errorf("a change of %.2f mm", mm)
			}
		}
		for i, shot := range s.Shots {
			p, c := shot.Pose, shot.Camera
			if math.Abs(p.HeadDeg) > 10 || math.Abs(p.HindFeetMM) > 25 || math.Abs(p.ForeFeetMM) > 15 || math.Abs(p.BackFlexMM) > 10 ||
				math.Abs(p.YawDeg) > 10 || math.Abs(p.PitchDeg) > 5 || math.Abs(c.RollDeg) > 5 || c.DistanceMM < 2000 || c.DistanceMM > 3000 {
				t.Errorf("%s: pose %+v camera %+v", shot.Name, p, c)
			}
			if i > 0 && (p == s.Shots[0].Pose || c == s.Shots[0].Camera || p.Facing != s.Shots[0].Pose.Facing) {
				t.Errorf("%s repeats the first shot", shot.Name)
			}
		}
	}
	if sittings != 60 || exact < 100 || bumps < 10 || lo < 5 || hi > 40 || lo > 7 || hi < 38 {
		t.Errorf("%d sittings, %d changes of exactly 3 mm, %d with a dip or rise, hair %.1f to %.1f mm", sittings, exact, bumps, lo, hi)
	}
}

func TestRigidDogsAreTheSameDogsBeforeAMovingCamera(t *testing.T) {
	next := func(m Movement) (out []Sitting) { return slices.Collect(Sittings(5, 2, m)) }
	rigid, standing := next(Rigid), next(Standing)
	for i, s := range rigid {
		for k, shot := range s.Shots {
			if want := (Pose{Facing: shot.Pose.Facing}); shot.Pose != want {
				t.Errorf("%s moves: %+v", shot.Name, shot.Pose)
			}
			if shot.Dog != standing[i].Shots[k].Dog || s.Coat[timeline.Back] != standing[i].Coat[timeline.Back] {
				t.Errorf("%s is another dog when it moves", shot.Name)
			}
		}
	}
}

func TestTheTruthOfTwoSittingsDiffersByTheChange(t *testing.T) {
	var before Truth
	checked := 0
	for s := range Sittings(9, 6, Standing) {
		now := s.Shots[0].Truth()
		if s.Index == 2 { // the second may bring a dip
			for _, z := range []timeline.Zone{timeline.Crest, timeline.Back, timeline.Loin, timeline.Rump, timeline.Thigh, timeline.Underline} {
				middle := func(t Truth) float64 {
					var d []float64
					for i, q := range t.SkinZones {
						if q == z {
							d = append(d, t.Depths[i])
						}
					}
					slices.Sort(d)
					return d[len(d)/2]
				}
				if got := middle(now) - middle(before); math.Abs(got-s.ChangeMM[z]) > 0.9 {
					t.Errorf("dog %d %s: %.2f mm, said to be %.2f", s.DogIndex, z, got, s.ChangeMM[z])
				}
				checked++
			}
		}
		before = now
	}
	if checked != 36 {
		t.Errorf("checked %d", checked)
	}
}

func TestEveryShotHoldsTheWholeDog(t *testing.T) {
	for s := range Sittings(77, 12, Standing) {
		for _, shot := range s.Shots {
			tr := shot.Truth()
			for _, ring := range append(tr.Far, tr.Outline) {
				for _, p := range ring {
					if p.X < 0 || p.Y < 0 || p.X > float64(shot.Camera.WidthPX-1) || p.Y > float64(shot.Camera.HeightPX-1) {
						t.Fatalf("%s: the dog leaves the picture at %v", shot.Name, p)
					}
				}
			}
		}
	}
}

func TestUnevenHairStandsWhereItIsSaidTo(t *testing.T) {
	d := Dog{Seed: 1}
	cam := Frame(d, 640, 480)
	even := RingReady(18)
	dip := RingReady(18)
	v := dip[timeline.Back]
	v.Uneven = Uneven{BumpMM: -4, BumpAt: 0.5, BumpSDMM: 18}
	dip[timeline.Back] = v
	a, b := TruthOf(d, even, Pose{}, cam), TruthOf(d, dip, Pose{}, cam)
	worst, at := 0.0, 0
	var back []int
	for i := range a.Depths {
		if a.SkinZones[i] == timeline.Back {
			back = append(back, i)
		}
		if diff := b.Depths[i] - a.Depths[i]; diff < worst {
			worst, at = diff, i
		}
	}
	if worst > -3.6 || worst < -4 {
		t.Errorf("the dip is %.2f mm", worst)
	}
	if middle := back[len(back)/2]; math.Abs(float64(at-middle)) > 4 {
		t.Errorf("the dip lies at vertex %d, the middle of the back at %d", at, middle)
	}
}
