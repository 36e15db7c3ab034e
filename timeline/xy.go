package timeline

import (
	"encoding/json"
	"fmt"
	"math"
)

func marshalXY(p XY) ([]byte, error) { return json.Marshal([2]float64{p.X, p.Y}) }

func unmarshalXY(b []byte, p *XY) error {
	var v []float64
	if err := json.Unmarshal(b, &v); err != nil {
		return fmt.Errorf("a point is [x, y]: %w", err)
	}
	if len(v) != 2 {
		return fmt.Errorf("a point is [x, y], got %d numbers", len(v))
	}
	if math.IsNaN(v[0]+v[1]) || math.IsInf(v[0]+v[1], 0) {
		return fmt.Errorf("a point is two finite numbers")
	}
	p.X, p.Y = v[0], v[1]
	return nil
}
