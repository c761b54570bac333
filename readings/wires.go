package readings

import (
	"encoding/json"
	"fmt"
	"math"
)

// Cylinder is how much earlier a cylinder fires than the one that the line belongs to, crank degrees: No. 1, or the
// lowest that was read.
type Cylinder struct {
	Cylinder int
	// Offset is later below zero; exactly zero for the line's own cylinder. Its interval holds the scatter of the
	// readings on both wires, and the placement of both marks where the two cylinders do not share one.
	Offset   Interval
	Readings int
}

// MarshalJSON writes {"cylinder","offset_deg","U_deg","readings"}, null for an unknown U.
func (c Cylinder) MarshalJSON() ([]byte, error) {
	return json.Marshal(struct {
		Cylinder int    `json:"cylinder"`
		Offset   Number `json:"offset_deg"`
		U        Number `json:"U_deg"`
		Readings int    `json:"readings"`
	}{c.Cylinder, Number(c.Offset.Value), Number(c.Offset.Expanded()), c.Readings})
}

// UnmarshalJSON reads what MarshalJSON wrote; the interval is then known by its half-width alone.
func (c *Cylinder) UnmarshalJSON(data []byte) error {
	var w struct {
		Cylinder int
		Offset   Number `json:"offset_deg"`
		U        Number `json:"U_deg"`
		Readings int
	}
	if err := json.Unmarshal(data, &w); err != nil {
		return err
	}
	*c = Cylinder{w.Cylinder, Unknown(), w.Readings}
	c.Offset.Value = float64(w.Offset)
	if u := float64(w.U); !math.IsNaN(u) {
		c.Offset.Lo, c.Offset.Hi = c.Offset.Value-u, c.Offset.Value+u
	}
	return nil
}

// WireError is how far off one cylinder is from idle to redline.
type WireError struct {
	Cylinder int `json:"cylinder"`
	// Worst is where |e| + U is largest, Surest where |e| − U is.
	Worst  ErrorAt `json:"worst"`
	Surest ErrorAt `json:"surest"`
	// Most is the largest |e| + U as a multiple of the tolerance: 1 or less is within for certain. Least is the largest
	// |e| − U in the same way: above 1 is beyond for certain. Unknown (infinite either way) where U is.
	Most  Number `json:"most_of_tolerance"`
	Least Number `json:"least_of_tolerance"`
	// ErrorAt is the band; a single speed where the readings tell no more.
	ErrorAt []ErrorAt `json:"error_at"`
}

// Within says that the cylinder keeps within the tolerance for certain, wherever ErrorAt tells.
func (w WireError) Within() bool { return w.Most <= 1 }

// Beyond says that it is beyond the tolerance for certain somewhere.
func (w WireError) Beyond() bool { return w.Least > 1 }

// wireError puts the errors of one cylinder at several speeds against a tolerance.
func wireError(cylinder int, at []ErrorAt, tolerance float64) WireError {
	w := WireError{Cylinder: cylinder, Worst: at[0], Surest: at[0], ErrorAt: at}
	for _, e := range at[1:] {
		if beyond(e, w.Worst) {
			w.Worst = e
		}
		if math.Abs(e.Value)-e.U > math.Abs(w.Surest.Value)-w.Surest.U {
			w.Surest = e
		}
	}
	w.Most = Number((math.Abs(w.Worst.Value) + w.Worst.U) / tolerance)
	w.Least = Number((math.Abs(w.Surest.Value) - w.Surest.U) / tolerance)
	return w
}

// worst is the cylinder that is furthest off, and how a sentence names it: not at all where one wire alone was read.
func (res *Result) worst() (w WireError, named string) {
	w = res.Wires[0]
	for _, x := range res.Wires[1:] {
		if beyond(x.Worst, w.Worst) {
			w = x
		}
	}
	if len(res.Wires) > 1 {
		named = fmt.Sprintf(" on the wire of cylinder %d", w.Cylinder)
	}
	return w, named
}

// reference is the cylinder that the line belongs to; 0 where nothing was read.
func (res *Result) reference() int {
	if len(res.Cylinders) == 0 {
		return 0
	}
	return res.Cylinders[0].Cylinder
}

// cylinders are those read, in rising order: the first is No. 1, unless nobody read it.
func (p *points) cylinders() []int {
	var seen [MostWires + 1]bool
	for _, w := range p.wire {
		seen[w] = true
	}
	var out []int
	for w, read := range seen {
		if read {
			out = append(out, w)
		}
	}
	return out
}

// soleSpeed is the mean speed at which a cylinder was read.
func (p *points) soleSpeed(cylinder int) float64 {
	var sum, k float64
	for i, w := range p.wire {
		if w == cylinder {
			sum, k = sum+p.n[i], k+1
		}
	}
	return sum / k
}

// oneSpeed says whether no cylinder was read at two different speeds.
func (p *points) oneSpeed() bool {
	var low, high [MostWires + 1]float64
	for i, w := range p.wire {
		if n := p.n[i]; low[w] == 0 {
			low[w], high[w] = n, n
		} else {
			low[w], high[w] = math.Min(low[w], n), math.Max(high[w], n)
		}
		if high[w] > low[w]*(1+sameSpeed) {
			return false
		}
	}
	return true
}

// widestSense is the half-width of an interval, crank degrees, beyond which its figure tells nothing: twice that is as
// wide as an engine's whole range of advance (common practice).
const widestSense = 20.0

// tellsNothing says whether the error at idle or at redline would be known within widestSense only. Where the readings
// show no scatter yet, twice their usual uncertainty is taken.
func (m *model) tellsNothing(set Settings) bool {
	for _, n := range []float64{float64(set.Idle), float64(set.Redline)} {
		half := m.scatterOnly(1, perMicrosecond*n)
		if math.IsInf(half, 1) || math.IsNaN(half) {
			_, half = m.fit.At(m.rowOf(1, perMicrosecond*n, 0), 2)
		}
		if half > widestSense {
			return true
		}
	}
	return false
}

// speedsOf are the speeds at which the error of a cylinder is told.
func (m *model) speedsOf(cylinder int, set Settings) []float64 {
	if m.slope && !m.wild {
		return grid(set)
	}
	return []float64{m.soleSpeed(cylinder)}
}

// reportWires fills in what was found of each cylinder.
func (m *model) reportWires(res *Result, set Settings) {
	var count [MostWires + 1]int
	for _, w := range m.wire {
		count[w]++
	}
	for i, c := range m.read {
		own := Cylinder{Cylinder: c, Readings: count[c]}
		if i > 0 {
			own.Offset = m.difference(c, set)
		}
		res.Cylinders = append(res.Cylinders, own)
		var at []ErrorAt
		for _, n := range m.speedsOf(c, set) {
			e := m.of(c, n)
			at = append(at, ErrorAt{RPM: n, Value: e.Value, U: e.Expanded()})
		}
		res.Wires = append(res.Wires, wireError(c, at, res.Tolerance))
	}
}

// difference is how much earlier a cylinder fires than that of the line. What both share, zero mark and pointer, drops
// out; the placement of two marks does not.
func (m *model) difference(cylinder int, set Settings) Interval {
	row := m.rowOf(1, 0, cylinder)
	row[0] = 0
	var more float64
	if len(set.Places) == 0 || math.Abs(wrap(float64(set.place(cylinder)-set.place(m.read[0])))) > 0.5 {
		for _, r := range m.common {
			more += 2 * r.ownMark * r.ownMark
		}
	}
	return m.along(row, more)
}
