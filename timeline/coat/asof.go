package coat

import "thatch/timeline"

// AsOf is the file as it stood at the start of a day: without the work and the readings of that day and later, and with
// that day as its Today. Its forecast is what was to be expected before anything of the day was known, which is what a
// reading of the day is fairly compared with. Layers pulled on that day or later are dropped with what follows from them;
// a zone left without a layer is left out. Layer lengths, which are of the old Today, are dropped too.
func (f File) AsOf(day timeline.Day) File {
	if day >= f.Today {
		day = f.Today
	}
	out := f
	out.Today = day
	out.Zones = make(map[timeline.Zone]Zone, len(f.Zones))
	for name, z := range f.Zones {
		var layers []Layer
		sum := 0.0
		for _, l := range z.Layers {
			if l.Pulled < day {
				if day < f.Today {
					l.LengthMM = nil
				}
				layers = append(layers, l)
				sum += l.Share
			}
		}
		if len(z.Layers) > 0 && len(layers) == 0 {
			continue
		}
		for i := range layers {
			layers[i].Share /= sum
		}
		z.Layers = layers
		z.Work = before(z.Work, day, func(w WorkDone) timeline.Day { return w.On })
		z.Measured = before(z.Measured, day, func(m Measured) timeline.Day { return m.On })
		z.Depth = before(z.Depth, day, func(d Depth) timeline.Day { return d.On })
		z.Pinched = before(z.Pinched, day, func(r Ripeness) timeline.Day { return r.On })
		z.Cover = before(z.Cover, day, func(c CoverSeen) timeline.Day { return c.On })
		var hair []NewHair
		for _, h := range z.NewHair {
			if h.Out >= day {
				h.Out = 0
			}
			if h.NotOut >= day {
				h.NotOut = 0
			}
			if h.Pulled < day && (!h.NotOut.IsZero() || !h.Out.IsZero()) {
				hair = append(hair, h)
			}
		}
		z.NewHair = hair
		if z.Ripeness != nil && z.Ripeness.On >= day {
			z.Ripeness = nil
		}
		out.Zones[name] = z
	}
	return out
}

func before[T any](all []T, day timeline.Day, on func(T) timeline.Day) []T {
	var out []T
	for _, x := range all {
		if on(x) < day {
			out = append(out, x)
		}
	}
	return out
}
