// Package timing turns thousands of firings, and a mark once a turn at TDC, into the timing error against speed: offset
// and delay, with uncertainties, by cylinder, and what would take them out.
//
// A controller that sees one edge a firing waits T·(L−a)/S after it, T being its last interval and S the degrees of
// that. In these terms the wait t gives S·t/T = L − a + 6·n·(τ−c)·10⁻⁶ with n the mean speed of that last interval,
// exactly so at any motion (trade sums, "what the controller can know"). The mark gives L as it stands in metal,
// against speed. Both lines together are the timing error e(n) = b − 6·n·(τ−c)·10⁻⁶, early positive, as it is at
// steady speed.
//
// Uncertainties by scatter come from leaving out whole stretches of the recording in turn, so that neighbouring firings
// need not be independent. To these come what no scatter shows: the mark's place, and what compression does to the
// motion between edges.
package timing

import (
	"math"
	"slices"

	"phasewright/quantity"
	"phasewright/shaft/motion"
	"phasewright/shaft/sums"
	"phasewright/shaft/wheel"
)

// set is what is gathered below the speeds of the timing line, or at them.
type set struct {
	mark   sums.Moments // the mark's distance from its learnt place, on x and 1/x² with x = n/1000 rpm
	wait   sums.Moments // S·t/T plus the commanded advance, less the usual wait, on x and x²
	shaft  sums.Moments // the same by the shaft's own angle
	cycles float64
	places []float64 // sums of each vane's distance from its nominal place, against vane 0
	vane   []byVane
}

// byVane are sums over the firings after one vane.
type byVane struct {
	// own: degrees from the nominal active edge plus the commanded advance, acceleration taken out
	n, speed, own float64
	squares       float64
}

func (s *set) join(o *set, f float64) {
	s.mark.Join(&o.mark, f)
	s.wait.Join(&o.wait, f)
	s.shaft.Join(&o.shaft, f)
	s.cycles += f * o.cycles
	for k := range s.places {
		s.places[k] += f * o.places[k]
		v, w := &s.vane[k], o.vane[k]
		v.n, v.speed, v.own, v.squares = v.n+f*w.n, v.speed+f*w.speed, v.own+f*w.own, v.squares+f*w.squares
	}
}

// row is what one stretch adds up to: below the speeds of the line, and at them.
type row struct{ slow, run set }

// Join adds f times another's sums.
func (r *row) Join(o *row, f float64) {
	r.slow.join(&o.slow, f)
	r.run.join(&o.run, f)
}

// Firing is a spark in the controller's own terms.
type Firing struct {
	Vane      int
	Numbered  bool           // the vanes are told apart
	Wait      quantity.Crank // S·t/T
	Speed     quantity.Speed // mean of the last interval
	Shaft     quantity.Crank // from the nominal place of its active edge, by the shaft
	Steady    quantity.Crank // the same as if the crank had kept the speed of the last interval
	Commanded quantity.Crank // commanded advance
}

// Gather collects firings and marks.
type Gather struct {
	l     *wheel.Layout
	rows  *sums.Stretches[row, *row]
	light sums.Mean // low speed: what a light shows on a firing beside its mark, less what the controller meant
	lowN  sums.Mean
}

// NewGather begins.
func NewGather(l *wheel.Layout) *Gather {
	g := &Gather{l: l}
	g.rows = sums.NewStretches[row, *row](g.empty)
	return g
}

func (g *Gather) empty() row {
	var r row
	for _, s := range []*set{&r.slow, &r.run} {
		s.places, s.vane = make([]float64, g.l.N), make([]byVane, g.l.N)
	}
	return r
}

// Clone is a copy that goes its own way.
func (g *Gather) Clone() *Gather {
	c := *g
	c.rows = g.rows.Clone()
	return &c
}

// at is the present set for the speed n.
func (g *Gather) at(n quantity.Speed) *set {
	if r := g.rows.Now(); n >= g.l.Facts.FitFrom {
		return &r.run
	} else {
		return &r.slow
	}
}

// Cycle tells that a cycle is over.
func (g *Gather) Cycle() { g.rows.Step() }

// Fire takes a firing. byShaft says that its place on the shaft is known.
func (g *Gather) Fire(f Firing) {
	s := g.at(f.Speed)
	x := float64(f.Speed) / 1000
	usual := quantity.Crank(g.l.Usual)
	s.wait.Add(x, x*x, float64(f.Wait+f.Commanded-usual))
	s.shaft.Add(x, x*x, float64(f.Shaft+f.Commanded-usual))
	if f.Numbered {
		v := &s.vane[f.Vane]
		own := float64(f.Steady + f.Commanded)
		v.n, v.speed, v.own, v.squares = v.n+1, v.speed+float64(f.Speed), v.own+own, v.squares+own*own
	}
}

// Mark takes a mark that stands so far from its learnt place, at the speed n.
func (g *Gather) Mark(n quantity.Speed, off quantity.Crank) {
	x := float64(n) / 1000
	g.at(n).mark.Add(x, 1/(x*x), float64(off))
}

// Places takes a cycle's vanes: how far each stands from its nominal place, against vane 0.
func (g *Gather) Places(n quantity.Speed, off []quantity.Crank) {
	s := g.at(n)
	s.cycles++
	for k, d := range off {
		s.places[k] += float64(d)
	}
}

// Light takes what a light shows at low speed, less what the controller meant.
func (g *Gather) Light(n quantity.Speed, off quantity.Crank) {
	g.light.Add(float64(off))
	g.lowN.Add(float64(n))
}

// parts are the stretches with firings at the speeds of the line; all says that they hold all speeds instead.
func (g *Gather) parts(all bool) []row {
	if !all {
		return g.rows.Parts(func(r *row) float64 { return r.run.wait.N + r.run.mark.N })
	}
	parts := g.rows.Parts(func(r *row) float64 { return r.slow.wait.N + r.slow.mark.N + r.run.wait.N + r.run.mark.N })
	for i := range parts {
		parts[i].run.join(&parts[i].slow, 1)
	}
	return parts
}

// moved is how much the vanes' places found over the whole recording shift the mark against its distance as measured
// with the places learnt from the first stretch. The cubic through the four vanes around the mark weighs them.
func (s *set) markShift(l *wheel.Layout) float64 {
	n := l.N
	if s.cycles < 1 || n < 2 {
		return 0
	}
	wrong := make([]float64, n) // place found less place learnt
	mean := 0.0
	for k := range wrong {
		wrong[k] = s.places[k]/s.cycles - float64(l.Late(k))
		mean += wrong[k] / float64(n)
	}
	total := 0.0
	for q := range 2 {
		at := motion.Wrap(l.Mark.At+quantity.Crank(q)*motion.Turn, motion.Cycle)
		k := n - 1 // the vane before the mark
		for j := range n {
			if motion.Wrap(at-l.Nominal[j], motion.Cycle) < motion.Wrap(at-l.Nominal[k], motion.Cycle) {
				k = j
			}
		}
		if n < 4 {
			f := float64(motion.Wrap(at-l.Nominal[k], motion.Cycle) / l.NomStep[l.Next(k)])
			total += (1-f)*(wrong[k]-mean) + f*(wrong[l.Next(k)]-mean)
			continue
		}
		var a [4]float64
		for j := range a {
			a[j] = float64(motion.Near(l.Nominal[(k-1+j+n)%n]-at, motion.Cycle))
		}
		for i := range a {
			weight := 1.0 // Lagrange
			for j := range a {
				if j != i {
					weight *= a[j] / (a[j] - a[i])
				}
			}
			total += weight * (wrong[(k-1+i+n)%n] - mean)
		}
	}
	return total / 2
}

// sparks says whether any channel carries sparks.
func (g *Gather) sparks() bool { return len(g.l.Assigned.Sparks) > 0 }

var nan = math.NaN()

// fired are the vanes that fire as often as the others do, in firing order from cylinder 1.
func fired(l *wheel.Layout, v []byVane) []int {
	most := 0.0
	for _, q := range v {
		most = max(most, q.n)
	}
	var out []int
	for i := range l.N {
		if k := (l.First + i) % l.N; v[k].n > 0 && v[k].n >= most/20 {
			out = append(out, k)
		}
	}
	return slices.Clip(out)
}
