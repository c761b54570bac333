// Package timing makes of thousands of firings, and of a mark once a turn at TDC, the timing error against speed: its
// offset and delay with their uncertainties, the error of each cylinder, and the correction that would remove them.
//
// A controller that sees one edge for each firing waits T·(L−a)/S after it. T is the time of the last interval, S its
// crank degrees, L the lead, a the commanded advance. The spark comes after the wait t, in which the signal delay τ and
// the controller's allowance c count too. In the controller's own terms
//
//	S·t/T = L − a + 6·n·(τ−c)·10⁻⁶        n the mean speed of the last interval, τ and c in µs
//
// holds exactly, however the speed changes (trade sums, "what the controller can know"). The mark shows the lead L as
// it stands in metal. The two lines together give the timing error at steady speed, early positive, with the offset b:
//
//	e(n) = b − 6·n·(τ−c)·10⁻⁶
//
// Uncertainty by scatter (Type A of JCGM 100) comes from leaving out whole stretches of the recording in turn, so that
// neighbouring firings need not be independent. Added to it is what scatter does not show (Type B): the place of the
// mark, and how compression bends the motion between edges.
package timing

import (
	"math"
	"slices"

	"phasewright/quantity"
	"phasewright/shaft/motion"
	"phasewright/shaft/sums"
	"phasewright/shaft/wheel"
)

// set holds sums over firings and marks, either below the speeds of the timing line or at them.
type set struct {
	mark   sums.Moments // distance of the mark from its learnt place, degrees, over x and 1/x² with x = n/1000 rpm
	wait   sums.Moments // S·t/T plus the commanded advance less the usual wait, degrees, over x and x²
	shaft  sums.Moments // the same with the angle that the shaft truly turned in place of S·t/T
	cycles float64
	places []float64 // by vane: sum over cycles of its distance from its nominal place, counted from vane 0
	vane   []byVane
}

// byVane holds sums over the firings after one vane.
type byVane struct {
	// count, rpm, and own: degrees from the nominal active edge to the spark, plus the commanded advance, as at the
	// steady speed of the last interval
	n, speed, own float64
}

func (s *set) join(o *set, f float64) {
	s.mark.Join(&o.mark, f)
	s.wait.Join(&o.wait, f)
	s.shaft.Join(&o.shaft, f)
	s.cycles += f * o.cycles
	for k := range s.places {
		s.places[k] += f * o.places[k]
		v, w := &s.vane[k], o.vane[k]
		v.n, v.speed, v.own = v.n+f*w.n, v.speed+f*w.speed, v.own+f*w.own
	}
}

// row holds the sums of one stretch, below the speeds of the timing line and at them.
type row struct{ slow, run set }

// Join adds f times the sums of o.
func (r *row) Join(o *row, f float64) {
	r.slow.join(&o.slow, f)
	r.run.join(&o.run, f)
}

// Firing is one spark.
type Firing struct {
	Vane      int
	Numbered  bool           // it is known which vane it is
	Wait      quantity.Crank // S·t/T, the wait in the controller's own terms
	Speed     quantity.Speed // mean speed of the last interval
	Shaft     quantity.Crank // angle that the shaft turned from the nominal place of the active edge on
	Steady    quantity.Crank // the same angle if the crank had kept the speed of the last interval
	Commanded quantity.Crank // commanded advance
}

// Gather collects firings and marks.
type Gather struct {
	l     *wheel.Layout
	rows  *sums.Stretches[row, *row]
	light sums.Mean // at low speed: the advance that a timing light shows less the one that the controller meant
	lowN  sums.Mean
}

// NewGather makes an empty Gather for the layout l.
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

// Clone is a copy that shares nothing with g.
func (g *Gather) Clone() *Gather {
	c := *g
	c.rows = g.rows.Clone()
	return &c
}

// at is the set of the present stretch that the speed n belongs to.
func (g *Gather) at(n quantity.Speed) *set {
	if r := g.rows.Now(); n >= g.l.Facts.FitFrom {
		return &r.run
	} else {
		return &r.slow
	}
}

// Cycle says that a cycle is over.
func (g *Gather) Cycle() { g.rows.Step() }

// Fire adds a firing.
func (g *Gather) Fire(f *Firing) {
	s := g.at(f.Speed)
	x := float64(f.Speed) / 1000
	usual := quantity.Crank(g.l.Usual)
	s.wait.Add(x, x*x, float64(f.Wait+f.Commanded-usual))
	s.shaft.Add(x, x*x, float64(f.Shaft+f.Commanded-usual))
	if f.Numbered {
		v := &s.vane[f.Vane]
		v.n, v.speed, v.own = v.n+1, v.speed+float64(f.Speed), v.own+float64(f.Steady+f.Commanded)
	}
}

// Mark adds a mark that stood off degrees from its learnt place, late positive, at the speed n.
func (g *Gather) Mark(n quantity.Speed, off quantity.Crank) {
	x := float64(n) / 1000
	g.at(n).mark.Add(x, 1/(x*x), float64(off))
}

// Places adds a cycle at the speed n: off is how far each vane stood from its nominal place, counted from vane 0.
func (g *Gather) Places(n quantity.Speed, off []quantity.Crank) {
	s := g.at(n)
	s.cycles++
	for k, d := range off {
		s.places[k] += float64(d)
	}
}

// Light adds, at low speed, how much more advance a timing light shows than the controller meant.
func (g *Gather) Light(n quantity.Speed, off quantity.Crank) {
	g.light.Add(float64(off))
	g.lowN.Add(float64(n))
}

// parts are the stretches with firings at the speeds of the timing line. With all they hold the firings at lower speeds
// too.
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

// markShift corrects the place of the mark, degrees. Each mark was placed between vanes as learnt from the first
// stretch; the whole recording knows their places better. The mark lies on the cubic through the four vanes around it,
// so it moves by the sum of (place found − place learnt) over the four, each with its Lagrange weight. The result is
// the mean over the two marks of a cycle.
func (s *set) markShift(l *wheel.Layout) float64 {
	n := l.N
	if s.cycles < 1 || n < 2 {
		return 0
	}
	wrong := make([]float64, n) // by vane: place found less place learnt
	mean := 0.0
	for k := range wrong {
		wrong[k] = s.places[k]/s.cycles - float64(l.Late(k))
		mean += wrong[k] / float64(n)
	}
	total := 0.0
	for q := range 2 {
		at := motion.Wrap(l.Mark.At+quantity.Crank(q)*motion.Turn, motion.Cycle)
		k := wheel.Last(l.Nominal, at)
		if n < 4 {
			f := float64(motion.Wrap(at-l.Nominal[k], motion.Cycle) / l.NomStep[l.Next(k)])
			total += (1-f)*(wrong[k]-mean) + f*(wrong[l.Next(k)]-mean)
			continue
		}
		var a [4]float64
		for j := range a {
			a[j] = float64(motion.Near(l.Nominal[(k-1+j+n)%n]-at, motion.Cycle))
		}
		for i, weight := range motion.Lagrange(a) {
			total += weight * (wrong[(k-1+i+n)%n] - mean)
		}
	}
	return total / 2
}

// sparks says whether there is a spark channel.
func (g *Gather) sparks() bool { return len(g.l.Assigned.Sparks) > 0 }

var nan = math.NaN()

// fired are the vanes whose sparks are seen, in firing order from cylinder 1: those with at least a twentieth of the
// most.
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
