package bench

import "math"

// Counts counts what happened in a run. Give it every event.
type Counts struct {
	CrankEdges, CamEdges, Sparks, Flashes int
	Extra                                 int // edges that no vane made
	Late                                  int // sparks for which the wait was too short
	Weak                                  int
	// sparks more than 60° from their cylinder's TDC of compression, the second ones of companion pairs apart
	Elsewhere  int
	ByCylinder map[int]*CylinderCounts
}

// CylinderCounts is one cylinder's sparks near its own TDC of compression.
type CylinderCounts struct {
	Sparks    int
	sum, sum2 float64
}

// Add counts an event.
func (t *Counts) Add(e *Event) {
	switch e.Kind {
	case CrankEdge:
		t.CrankEdges++
		if e.Extra {
			t.Extra++
		}
	case CamEdge:
		t.CamEdges++
	case Flash:
		t.Flashes++
	case Spark:
		t.spark(e)
	}
}

func (t *Counts) spark(e *Event) {
	const far = 60
	t.Sparks++
	if e.Late {
		t.Late++
	}
	if e.Weak {
		t.Weak++
	}
	a := float64(e.Advance)
	if math.Abs(a) > far {
		if !e.Extra {
			t.Elsewhere++
		}
		return
	}
	if t.ByCylinder == nil {
		t.ByCylinder = map[int]*CylinderCounts{}
	}
	c := t.ByCylinder[e.Cylinder]
	if c == nil {
		c = &CylinderCounts{}
		t.ByCylinder[e.Cylinder] = c
	}
	d := a - float64(e.Commanded)
	c.Sparks++
	c.sum += d
	c.sum2 += d * d
}

// Error is the mean timing error, true less commanded, and its standard deviation, crank degrees.
func (c *CylinderCounts) Error() (mean, sd float64) {
	n := float64(c.Sparks)
	mean = c.sum / n
	return mean, math.Sqrt(max(c.sum2/n-mean*mean, 0))
}
