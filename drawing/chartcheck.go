package drawing

import (
	"fmt"
	"math"
)

// check refuses values that have no place on a chart.
func (c Chart) check() error {
	for i, p := range c.Panels {
		bad := func(what string, k int) error {
			return fmt.Errorf("chart panel %d, %s %d – a value is not a finite number – leave it out", i+1, what, k+1)
		}
		for k, s := range p.Series {
			for _, q := range s.Points {
				if !finite(q.X, q.Y) {
					return bad("series", k)
				}
			}
		}
		for k, b := range p.Bands {
			if len(b.Lo) != len(b.X) || len(b.Hi) != len(b.X) {
				return fmt.Errorf("chart panel %d, band %d – %d, %d and %d values for x, low and "+
					"high – give as many of each", i+1, k+1, len(b.X), len(b.Lo), len(b.Hi))
			}
			if !finite(b.X...) || !finite(b.Lo...) || !finite(b.Hi...) {
				return bad("band", k)
			}
		}
		for k, m := range p.Marks {
			if !finite(m.X, m.Y, m.U) {
				return bad("point", k)
			}
		}
		for k, z := range p.Zones {
			if !finite(z.Lo, z.Hi) {
				return bad("zone", k)
			}
		}
		for k, m := range p.Remarks {
			if !finite(m.X, m.Y) {
				return bad("remark", k)
			}
		}
	}
	for k, r := range c.Rows {
		if !finite(r.At...) {
			return fmt.Errorf("chart, row %d – a value is not a finite number – leave it out", k+1)
		}
		for _, s := range r.Spans {
			if !finite(s.From, s.To) || s.To < s.From {
				return fmt.Errorf("chart, row %d – a span from %g to %g – give finite values that rise", k+1,
					s.From, s.To)
			}
		}
	}
	for k, s := range c.Stretches {
		if !finite(s.From, s.To) || s.To < s.From {
			return fmt.Errorf("chart, stretch %d – it goes from %g to %g – give finite values that rise", k+1,
				s.From, s.To)
		}
	}
	for k, r := range c.References {
		if !finite(r.X) {
			return fmt.Errorf("chart, reference %d – a value is not a finite number – leave it out", k+1)
		}
	}
	return nil
}

func finite(vs ...float64) bool {
	for _, v := range vs {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return false
		}
	}
	return true
}
