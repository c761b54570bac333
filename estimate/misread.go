package estimate

import (
	"math"
	"math/rand/v2"
	"slices"
)

// MisreadRule says how sure one must be before a reading is set aside.
type MisreadRule struct {
	// Alpha is the chance that any good reading of a clean set is accused; 0 means 0.01.
	Alpha float64
	// PriorDOF says how far the given uncertainties are believed, in degrees of freedom
	// (see RelativeDOF); 0 means 8, "good to 25 %". Few readings cannot show their own
	// scatter while one of them is wrong, so the prior carries them; many outweigh it.
	PriorDOF float64
}

// Misreads names the points, in rising order, that do not belong to the line through the
// others. u holds one standard uncertainty for each point, all finite.
//
// Method: a robust start (the line through two points that leaves the smaller half of the
// squared residuals least: least trimmed squares by elemental pairs), then a forward search.
// The kept points are fitted, the nearest point outside is admitted while its studentised
// prediction error passes a t test at Alpha/(2n) (Bonferroni); those never admitted are named.
// The scale is pooled: (PriorDOF + SS)/(PriorDOF + dof) on the given u. At most one in four is
// named (one of up to nine points): more is no misread but a wide scatter. Fewer than four points
// name nobody, and a point that alone holds the slope is never named.
//
// Six readings cannot tell one misread from a scatter three times as wide as given, so the given
// u matter: true to half as much again, a good reading is accused in 1 clean set of 100; twice
// as wide, in 5 or 6; the tests count it.
//
// See Rousseeuw and Leroy, Robust Regression and Outlier Detection (1987), and Atkinson and Riani,
// Robust Diagnostic Regression Analysis (2000), for the two halves.
func Misreads(x, y, u []float64, rule MisreadRule) []int {
	n := len(y)
	if n < 4 {
		return nil
	}
	if rule.Alpha == 0 {
		rule.Alpha = 0.01
	}
	if rule.PriorDOF == 0 {
		rule.PriorDOF = 8
	}
	s := &search{x: x, y: y, u: u, rule: rule, kept: make([]bool, n)}
	if s.clean() {
		return nil
	}
	named := s.forward()
	dof := float64(s.line.count) - s.line.unknowns
	if len(named) > 0 && n <= shortList && ChiSquareTail(s.line.ss, dof) < doubtP {
		// The others scatter beyond the given figures, too: then those are what is wrong, and
		// the points must show by their own scatter that one of them does not belong.
		return s.deletion()
	}
	return named
}

// Up to shortList points, too few to outvote the given uncertainties by themselves, the others
// must agree with those at doubtP before one is named by them.
const (
	shortList = 12
	doubtP    = 0.01
)

// Up to oneByOne points are admitted one at a time.
const oneByOne = 64

// deletion names the one point whose deleted residual stands out by the scatter of the others
// alone, whatever the given uncertainties.
func (s *search) deletion() []int {
	for i := range s.kept {
		s.kept[i] = true
	}
	s.fit()
	l := &s.line
	dof := float64(l.count) - l.unknowns - 1
	worst, most := -1, s.critical(dof)
	for i := range s.y {
		v := s.u[i] * s.u[i]
		left := 1 - l.hold(s.x[i])/v
		if left < 1e-6 {
			continue
		}
		r := l.residual(s.x[i], s.y[i])
		part := r * r / (v * left)
		if t := math.Sqrt(part / (math.Max(l.ss-part, 0) / dof)); t > most {
			worst, most = i, t
		}
	}
	if worst < 0 {
		return nil
	}
	return []int{worst}
}

// search holds the state of one Misreads call.
type search struct {
	x, y, u []float64
	rule    MisreadRule
	kept    []bool
	line    keptLine
}

// keptLine is the weighted line through the kept points, about their centre.
type keptLine struct {
	count            int
	weight, xm, ym   float64
	sxx, slope, ss   float64
	unknowns, pooled float64 // pooled is the scale squared
}

func (s *search) fit() {
	var l keptLine
	for i, k := range s.kept {
		if k {
			w := 1 / (s.u[i] * s.u[i])
			l.count++
			l.weight += w
			l.xm += w * s.x[i]
			l.ym += w * s.y[i]
		}
	}
	l.xm /= l.weight
	l.ym /= l.weight
	var sxy, size float64
	for i, k := range s.kept {
		if k {
			w := 1 / (s.u[i] * s.u[i])
			dx := s.x[i] - l.xm
			l.sxx += w * dx * dx
			sxy += w * dx * (s.y[i] - l.ym)
			size += w * s.x[i] * s.x[i]
		}
	}
	l.unknowns = 1
	if l.sxx > 1e-20*size { // otherwise all at one speed
		l.unknowns = 2
		l.slope = sxy / l.sxx
	} else {
		l.sxx = 0
	}
	for i, k := range s.kept {
		if k {
			r := (s.y[i] - l.ym - l.slope*(s.x[i]-l.xm)) / s.u[i]
			l.ss += r * r
		}
	}
	l.pooled = (s.rule.PriorDOF + l.ss) / (s.rule.PriorDOF + float64(l.count) - l.unknowns)
	s.line = l
}

func (s *search) critical(dof float64) float64 {
	return StudentQuantile(1-s.rule.Alpha/(2*float64(len(s.y))), dof)
}

// hold is 1/W + (x−x̄)²/Sxx: how well the kept points know the line there.
func (l *keptLine) hold(x float64) float64 {
	h := 1 / l.weight
	if dx := x - l.xm; dx != 0 && (l.sxx > 0 || math.Abs(dx) > 1e-9*math.Abs(l.xm)) {
		h += dx * dx / l.sxx // +Inf where the kept points sit at one speed
	}
	return h
}

func (l *keptLine) residual(x, y float64) float64 { return y - l.ym - l.slope*(x-l.xm) }

// clean is the quick way out: no deleted residual stands out and the scatter as a whole
// fits the given u, so that nothing can be masked.
func (s *search) clean() bool {
	n := len(s.y)
	for i := range s.kept {
		s.kept[i] = true
	}
	s.fit()
	l := &s.line
	dof := float64(n) - l.unknowns
	if dof < 2 {
		return true
	}
	if l.ss > dof+1.3*math.Sqrt(2*dof) {
		return false
	}
	critical := s.critical(s.rule.PriorDOF + dof - 1)
	for i := range s.y {
		v := s.u[i] * s.u[i]
		left := 1 - l.hold(s.x[i])/v
		if left < 1e-6 {
			continue // it alone holds the slope
		}
		r := l.residual(s.x[i], s.y[i])
		part := r * r / (v * left)
		scale := (s.rule.PriorDOF + math.Max(l.ss-part, 0)) / (s.rule.PriorDOF + dof - 1)
		if part > critical*critical*scale {
			return false
		}
	}
	return true
}

// forward grows the kept set from its robust start.
func (s *search) forward() []int {
	n := len(s.y)
	s.start()
	outside := make([]int, 0, n)
	// A short list is done after as many passes as it has points; a long one that is not done
	// by then has no body of points to speak of, and names nobody.
	settled := false
	for range oneByOne {
		s.fit()
		l := &s.line
		outside = outside[:0]
		best, nearest := math.Inf(1), -1
		critical := s.critical(s.rule.PriorDOF + float64(l.count) - l.unknowns)
		admitted := false
		for i, k := range s.kept {
			if k {
				continue
			}
			r := l.residual(s.x[i], s.y[i])
			h := l.hold(s.x[i])
			t := 0.0 // nothing can be said against a point that alone holds the slope
			if !math.IsInf(h, 1) {
				t = math.Abs(r) / math.Sqrt(l.pooled*(s.u[i]*s.u[i]+h))
			}
			outside = append(outside, i)
			if t < best {
				best, nearest = t, i
			}
			// One at a time is the sharper way; a long list admits all that pass at once.
			if n > oneByOne && t <= critical {
				s.kept[i] = true
				admitted = true
			}
		}
		if nearest < 0 {
			return nil
		}
		if n <= oneByOne && best <= critical {
			s.kept[nearest] = true
			admitted = true
		}
		if !admitted {
			settled = true
			break
		}
	}
	if !settled {
		return nil
	}
	named := make([]int, 0, len(outside))
	for i, k := range s.kept {
		if !k {
			named = append(named, i)
		}
	}
	if len(named) > max(1, (n-2)/4) {
		return nil
	}
	return named
}

// start keeps the larger half of the points: those nearest to the best elemental line.
func (s *search) start() {
	n := len(s.y)
	// The criterion looks at every point of a short list, at a spread of 200 of a long one.
	look := min(n, 200)
	at := func(k int) int { return k * n / look }
	half := (look + 3) / 2
	size := make([]float64, max(look, n))
	best, bestA, bestB := math.Inf(1), 0.0, 0.0
	try := func(i, j int) {
		if s.x[i] == s.x[j] {
			return
		}
		b := (s.y[j] - s.y[i]) / (s.x[j] - s.x[i])
		a := s.y[i] - b*s.x[i]
		for k := range look {
			m := at(k)
			r := (s.y[m] - a - b*s.x[m]) / s.u[m]
			size[k] = r * r
		}
		Nth(size[:look], half-1)
		var sum float64
		for _, v := range size[:half] {
			sum += v
		}
		if sum < best {
			best, bestA, bestB = sum, a, b
		}
	}
	if n <= 15 {
		for i := range n {
			for j := i + 1; j < n; j++ {
				try(i, j)
			}
		}
	} else {
		// 120 pairs hold many clean ones while fewer than half of the points are bad. Fixed
		// seed: the same readings always give the same answer.
		r := rand.New(rand.NewPCG(1, uint64(n)))
		for range 120 {
			try(r.IntN(n), r.IntN(n))
		}
	}
	if math.IsInf(best, 1) { // all at one speed: start from the median
		copy(size, s.y)
		bestA = Nth(size[:n], n/2)
	}
	for k := range n {
		size[k] = math.Abs(s.y[k]-bestA-bestB*s.x[k]) / s.u[k]
	}
	order := make([]int, n)
	for k := range order {
		order[k] = k
	}
	slices.SortFunc(order, func(a, b int) int {
		switch {
		case size[a] < size[b]:
			return -1
		case size[a] > size[b]:
			return 1
		}
		return a - b
	})
	clear(s.kept)
	for _, k := range order[:min(n, (n+3)/2)] {
		s.kept[k] = true
	}
}
