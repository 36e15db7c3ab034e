package measure

import "thatch/timeline"

// Where zones meet, as shares of the way along the edge between two points. By eye, no source: the trade draws no lines.
const (
	skullBegins    = 0.67 // nose to occiput
	crestEnds      = 0.89 // occiput to withers
	withersEnds    = 0.13 // withers to tail set
	backEnds       = 0.65
	loinEnds       = 0.85
	thighEnds      = 0.67 // buttock to hock
	forechestEnds  = 0.16 // prosternum to nose, below
	throatEnds     = 0.47
	beardBegins    = 0.55
	beardEnds      = 0.79
	forechestFirst = 0.14 // below the prosternum, in lengths of the back
	footHigh       = 0.10 // height of a foot over the paw's point, in lengths of the back
	bellyLow       = 0.03 // how far the underline may hang below the elbow, in lengths of the back
)

// ZonesAlong says of every vertex of an edge to which zone in the outline it belongs; "" where no zone is measured (muzzle,
// jaw, feet), and where points are missing that would tell. Without withers and tail set all are "". polygon is closed, px;
// facing is where the nose points.
func ZonesAlong(polygon []XY, lm timeline.Landmarks, facing timeline.Side) []timeline.Zone {
	out := make([]timeline.Zone, len(polygon))
	c, ok := walk(polygon, lm, facing)
	if !ok {
		return out
	}
	for k, z := range c.zones(lm) {
		out[c.was[k]] = z
	}
	return out
}

// zones of every place of the walk.
func (c *contour) zones(lm timeline.Landmarks) []timeline.Zone {
	out := make([]timeline.Zone, len(c.at))
	set := func(from, to int, z timeline.Zone) {
		for k := from; k < to; k++ {
			out[k] = z
		}
	}
	// part is the place at a share of the way between two others.
	part := func(from, to int, share float64) int {
		k := from
		for k < to && c.span(from, k) < share*c.span(from, to) {
			k++
		}
		return k
	}
	occiput, hasOcciput := c.mark[timeline.Occiput]
	withers, tail := c.mark[timeline.WithersPt], c.mark[timeline.TailSet]
	if hasOcciput {
		if _, hasNose := lm[timeline.Nose]; hasNose {
			set(part(0, occiput, skullBegins), occiput, timeline.Skull)
		}
		crest := part(occiput, withers, crestEnds)
		set(occiput, crest, timeline.Crest)
		set(crest, withers, timeline.Withers)
	}
	a, b, d := part(withers, tail, withersEnds), part(withers, tail, backEnds), part(withers, tail, loinEnds)
	set(withers, a, timeline.Withers)
	set(a, b, timeline.Back)
	set(b, d, timeline.Loin)
	set(d, tail, timeline.Rump)

	buttock, hasButtock := c.mark[timeline.Buttock]
	if !hasButtock {
		return out
	}
	root := c.tailEnds(tail, buttock)
	set(tail, root, timeline.Tail)
	set(root, buttock, timeline.Thigh)
	hock, hasHock := c.mark[timeline.Hock]
	hind, hasHind := c.mark[timeline.HindPaw]
	front, hasFront := c.mark[timeline.FrontPaw]
	if !hasHock || !hasHind || !hasFront {
		return out
	}
	stifle := part(buttock, hock, thighEnds)
	set(buttock, stifle, timeline.Thigh)
	set(stifle, hind, timeline.Hindleg)

	low := c.low(c.at[withers]) + 0.5*(c.low(c.at[front])-c.low(c.at[withers]))
	if elbow, has := lm[timeline.Elbow]; has {
		low = c.low(elbow)
	}
	middle := (c.at[hind].X + c.at[front].X) / 2
	for k := hind; k < front; k++ {
		switch {
		case c.low(c.at[k]) <= low+bellyLow*c.back:
			out[k] = timeline.Underline
		case (c.at[k].X > middle) == (c.at[hind].X > middle):
			out[k] = timeline.Hindleg
		default:
			out[k] = timeline.Foreleg
		}
	}
	end := len(c.at)
	chest, hasChest := c.mark[timeline.Prosternum]
	if !hasChest {
		chest = end
	}
	for k := front; k < chest; k++ {
		if c.low(c.at[k]) > low {
			out[k] = timeline.Foreleg
		} else if hasChest && c.span(k, chest) < forechestFirst*c.back {
			out[k] = timeline.Forechest
		}
	}
	for k := hind - 1; k >= 0 && k < len(out); k-- {
		if out[k] != timeline.Hindleg {
			break
		}
		if c.low(c.at[hind])-c.low(c.at[k]) < footHigh*c.back {
			out[k] = ""
		}
	}
	for k := hind; k < chest; k++ {
		foot := hind
		if out[k] == timeline.Foreleg {
			foot = front
		}
		if (out[k] == timeline.Hindleg || out[k] == timeline.Foreleg) && c.low(c.at[foot])-c.low(c.at[k]) < footHigh*c.back {
			out[k] = ""
		}
	}
	if hasChest {
		if _, hasNose := lm[timeline.Nose]; hasNose {
			e, f := part(chest, end-1, forechestEnds), part(chest, end-1, throatEnds)
			set(chest, e, timeline.Forechest)
			set(e, f, timeline.Throat)
			set(part(chest, end-1, beardBegins), part(chest, end-1, beardEnds), timeline.Beard)
		}
	}
	return out
}
