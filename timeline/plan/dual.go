package plan

import (
	"math"
	"slices"
	"sync"
)

// quest asks a zone for its cheapest sequence: least Σ (price + perMinute)·minutes − worth·use with readiness of at least
// floor.
type quest struct {
	price     []float64
	perMinute float64
	worth     float64
	floor     float64
}

// cheapest answers a quest from all that the zone may be given; nil where nothing is ready enough. Of a zone that was not
// seen whole the value is a bound below that nothing can pass, and the sequence is of those that were seen.
func (t *task) cheapest(z *zone, o *options, q quest) (float64, *sequence) {
	if o.graph != nil {
		v, choose, ok := o.graph.least(q, nil)
		if o.graph.thin {
			v = min(v, -q.worth*o.usefulMost)
		}
		if !ok {
			return v, nil
		}
		return v, o.graph.path(t, z, choose)
	}
	best, pick := math.Inf(1), (*sequence)(nil)
	for _, s := range o.list {
		if s.ready >= q.floor {
			if v := q.perMinute*s.total + dot(q.price, s) - q.worth*s.useful; v < best {
				best, pick = v, s
			}
		}
	}
	return best, pick
}

// dual is the Lagrangian bound of the choice between zones (Fisher 1981, Management Science 27(1)): no choice of one
// sequence a zone within the minutes, each at least as ready as its floor and together of at least this use, costs less than
// bound. +Inf: there is none. Prices are found by subgradient steps.
type dual struct {
	t       *task
	opts    []options
	floors  []float64
	worthOf bool // the goal is use: cost is −use
	minutes bool // the goal is minutes
	need    float64
	price   []float64
	worth   float64
	bound   float64
	columns []map[*sequence]bool // every answer that was given, one set a zone
}

func (t *task) newDual(opts []options, floors []float64) *dual {
	d := &dual{t: t, opts: opts, floors: floors, need: math.Inf(-1), price: make([]float64, len(t.room))}
	for range opts {
		d.columns = append(d.columns, map[*sequence]bool{})
	}
	return d
}

// ask puts the same prices to every zone, on two cores.
func (d *dual) ask(price []float64, worth float64) (values []float64, picks []*sequence) {
	values, picks = make([]float64, len(d.opts)), make([]*sequence, len(d.opts))
	var wg sync.WaitGroup
	for part := range 2 {
		wg.Add(1)
		go func() {
			defer wg.Done()
			for i := part; i < len(d.opts); i += 2 {
				z := d.t.zones[i]
				if !z.hasBand {
					picks[i] = d.opts[i].usual
					continue
				}
				q := quest{price: price, worth: worth, floor: d.floors[i]}
				if d.worthOf {
					q.worth++
				}
				if d.minutes {
					q.perMinute = 1
				}
				values[i], picks[i] = d.t.cheapest(z, &d.opts[i], q)
			}
		}()
	}
	wg.Wait()
	return values, picks
}

// rise takes so many steps from the prices there are; try is called with the picks of each and ends the rise by true.
func (d *dual) rise(steps int, try func(picks []*sequence) bool) {
	t := d.t
	price, worth := slices.Clone(d.price), d.worth
	d.bound = math.Inf(-1)
	used := make([]float64, len(t.room))
	needs := !math.IsInf(d.need, -1)
	scale, since := 1.0, 0
	for range steps {
		values, picks := d.ask(price, worth)
		sum, use := 0.0, 0.0
		clear(used)
		for i, v := range values {
			sum += v
			if math.IsInf(v, 1) {
				d.bound = v
				return
			}
			if s := picks[i]; s != nil {
				d.columns[i][s] = true
				use += s.useful
				for k, m := range s.minutes {
					used[k] += m
				}
			}
		}
		if needs {
			sum += worth * d.need
		}
		for i, p := range price {
			sum -= p * t.room[i]
		}
		if since++; sum > d.bound {
			d.bound, d.worth, since = sum, worth, 0
			copy(d.price, price)
		} else if since >= 4 {
			scale, since = scale/2, 0
			copy(price, d.price)
			worth = d.worth
		}
		if try != nil && try(picks) {
			return
		}
		norm := 0.0
		for i := range used {
			if over := used[i] - t.room[i]; over > 0 || price[i] > 0 {
				norm += over * over
			}
		}
		short := d.need - use
		if needs && (short > 0 || worth > 0) {
			norm += short * short * useScale
		}
		if norm < 1e-18 {
			return
		}
		h := scale * math.Max(0.05*math.Abs(sum), d.step()) / norm
		for i := range price {
			price[i] = math.Max(0, price[i]+h*(used[i]-t.room[i]))
		}
		if needs {
			worth = math.Max(0, worth+h*short*useScale)
		}
	}
}

// useScale makes a step in the price of use as bold as one in the price of a minute.
const useScale = 1e4

// step is the size of the first steps in units of the goal.
func (d *dual) step() float64 {
	switch {
	case d.worthOf:
		return 0.5
	case d.minutes:
		return 20
	}
	return 1
}
