package shaft

// firingSums are plain sums over firings: of values of like size, whose means alone are wanted, so that nothing cancels.
type firingSums struct {
	count           int64
	n, steady, told float64 // rpm; degrees from the nominal active edge, acceleration taken out; degrees commanded
}

func (f *firingSums) add(n, steady, told float64) {
	f.count++
	f.n += n
	f.steady += steady
	f.told += told
}

func (f firingSums) and(g firingSums) firingSums {
	return firingSums{f.count + g.count, f.n + g.n, f.steady + g.steady, f.told + g.told}
}

// rpm is the mean speed.
func (f firingSums) rpm() float64 { return f.n / float64(f.count) }

// advance is the mean without the lead: minus the degrees from the nominal edge.
func (f firingSums) advance() float64 { return -f.steady / float64(f.count) }

// error is the same less the commanded advance.
func (f firingSums) error() float64 { return -(f.steady + f.told) / float64(f.count) }

// vaneFiring is what the firings after one vane showed.
type vaneFiring struct {
	slow, running firingSums // below the speeds of the timing line, and at them
	scatter       gathered   // about their running mean, in the controller's own terms
}

func (v *vaneFiring) all() firingSums { return v.slow.and(v.running) }

// speedSums is what the firings in one class of speed showed.
type speedSums struct {
	after        gathered // degrees travelled since the active edge; its count is that of all but dwell
	n, own, told float64  // sums: rpm, the angle in the controller's own terms, degrees commanded
	lo, hi       float64  // rpm
	dwells       int64
	dwell        float64 // sum, ms
}

func (c *speedSums) add(v ownView, told, dwell float64) {
	if c.after.n == 0 {
		c.lo, c.hi = v.n, v.n
	}
	if v.n < c.lo {
		c.lo = v.n
	}
	if v.n > c.hi {
		c.hi = v.n
	}
	c.after.add(v.after)
	c.n += v.n
	c.own += v.y
	c.told += told
	if dwell > 0 && dwell < 1000 {
		c.dwells++
		c.dwell += dwell
	}
}

// mean of one of the sums.
func (c *speedSums) mean(sum float64) float64 { return sum / float64(c.after.n) }

func (c *speedSums) join(q *speedSums) {
	switch {
	case q.after.n == 0:
	case c.after.n == 0:
		c.lo, c.hi = q.lo, q.hi
	default:
		c.lo, c.hi = min(c.lo, q.lo), max(c.hi, q.hi)
	}
	c.after.join(q.after)
	c.n += q.n
	c.own += q.own
	c.told += q.told
	c.dwells += q.dwells
	c.dwell += q.dwell
}
