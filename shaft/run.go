package shaft

import (
	"context"
	"fmt"
	"math"

	"phasewright/waveform"
)

// Run reads source to its end and says what it shows.
//
// Errors are options that contradict themselves, a source that cannot be read, and ctx. Where the source fails or ctx ends after some edges were given, the
// Result of what was read comes with the error, marked Partial. A recording that was merely cut off gives a Result marked Partial and no error.
func Run(ctx context.Context, source Source, opt Options) (*Result, error) {
	a, err := New(opt)
	if err != nil {
		return nil, err
	}
	a.apart = true
	defer a.abandon()
	res, err := source.Scan(ctx, a)
	if err != nil {
		if res == nil || !a.begun {
			return nil, err
		}
		r := a.Finish(res)
		if r.Partial == "" {
			r.Partial = err.Error()
		}
		return r, err
	}
	return a.Finish(res), nil
}

// latest is the largest time that is taken, in seconds: thirty years.
const latest = 1e9

// Analyser is Run taken apart: a waveform.Sink to hand to waveform.Scan, and Finish. Use one for one recording.
type Analyser struct {
	s     *setup
	info  waveform.Info
	begun bool
	kept  []waveform.Edge // the first stretch, until the plan is made
	// the plan is being made while more edges come; it rests on the first stretch alone, so that what it says does not depend on how long that takes
	planning *planning
	plan     *plan
	tr       *tracker
	log      *log

	apart bool // the ledger works on a goroutine of its own
	role  []Role
	route []route   // by channel, as soon as there is a plan
	since []float64 // time at which the state became unknown; NaN: known
	last  float64
	// edges that are no rise and no fall
	others int64
	back   int64 // edges that went back in time
	backT  float64
	bad    int64 // edges of no channel, or at no time
	start  float64
}

var _ interface {
	waveform.Sink
	waveform.Reviser
} = (*Analyser)(nil)

// New makes an Analyser; the error names an option that cannot be.
func New(opt Options) (*Analyser, error) {
	s, err := newSetup(opt)
	if err != nil {
		return nil, err
	}
	return &Analyser{s: s, last: math.Inf(-1), start: math.NaN(), log: newLog(s.mostListed)}, nil
}

// Begin takes the channels.
func (a *Analyser) Begin(info waveform.Info) error {
	a.info, a.begun = info, true
	a.info.Channels = append([]waveform.Channel(nil), info.Channels...)
	a.since = make([]float64, len(info.Channels))
	for i := range a.since {
		a.since[i] = math.NaN()
	}
	if t := a.s.opt.Tee; t != nil {
		return t.Begin(info)
	}
	return nil
}

// Revise takes levels learnt later.
func (a *Analyser) Revise(index int, c waveform.Channel) error {
	if index >= 0 && index < len(a.info.Channels) {
		a.info.Channels[index] = c
	}
	if t, ok := a.s.opt.Tee.(waveform.Reviser); ok {
		return t.Revise(index, c)
	}
	return nil
}

// Edges takes the next edges.
func (a *Analyser) Edges(batch []waveform.Edge) error {
	if t := a.s.opt.Tee; t != nil {
		if err := t.Edges(batch); err != nil {
			return err
		}
	}
	last := a.last
	for i := range batch { // hot: every edge of the recording; there are no routes before the plan
		e := &batch[i]
		t := float64(e.At)
		if t >= last && t < latest && uint(e.Channel) < uint(len(a.route)) && e.Kind <= waveform.Fall {
			last = t
			r := &a.route[e.Channel]
			r.edges++
			if w := r.means[e.Kind&1]; w != nothing {
				a.tr.edge(t, w, e.Channel)
			}
			continue
		}
		a.last = last
		a.odd(e)
		last = a.last
	}
	a.last = last
	return nil
}

// odd takes what is no edge, or cannot be taken, and everything before the plan.
func (a *Analyser) odd(e *waveform.Edge) {
	t := float64(e.At)
	switch {
	case uint(e.Channel) >= uint(len(a.info.Channels)) || !(math.Abs(t) < latest):
		a.bad++
		return
	case t < a.last:
		if a.back == 0 {
			a.backT = t
		}
		a.back++
		return
	}
	a.last = t
	if a.plan == nil {
		a.keep(e)
		return
	}
	a.others++
	a.state(e)
}

// keep holds an edge until enough are there for the plan to be made, and until it is made.
func (a *Analyser) keep(e *waveform.Edge) {
	if a.kept == nil {
		a.start = float64(e.At)
		a.kept = make([]waveform.Edge, 0, 4096)
	}
	if n := len(a.kept); n == cap(a.kept) { // short recordings never come here; others grow at once to what is kept at most
		most := stretch
		if n >= stretch {
			most += mostWaiting
		}
		a.kept = append(make([]waveform.Edge, 0, most), a.kept...)
	}
	a.kept = append(a.kept, *e)
	switch n := len(a.kept); {
	case n == stretch && a.apart:
		a.planning = newPlanning(a.s, a.info.Channels, a.kept)
	case n == stretch, a.planning != nil && (n%1024 == 0 && a.planning.made() || n == stretch+mostWaiting):
		a.learn()
	}
}

// mostWaiting bounds the edges that are kept while the plan is made aside: 3 MiB.
const mostWaiting = 1 << 17

// learn makes the plan, or waits for it, and sends what was kept through it.
func (a *Analyser) learn() {
	if a.planning != nil {
		a.plan, a.planning = a.planning.wait(), nil
	} else {
		a.plan = newPlan(a.s, a.info.Channels, a.kept)
	}
	a.role = a.plan.roles
	a.route = a.plan.routes()
	if a.plan.w != nil {
		a.tr = newTracker(a.plan, a.log)
		if a.apart {
			a.tr.aside = newAside(a.tr.ledger)
		}
		a.tr.sample = float64(a.info.Interval)
	}
	for i := range a.kept {
		e := &a.kept[i]
		if e.Kind > waveform.Fall {
			a.others++
			a.state(e)
			continue
		}
		r := &a.route[e.Channel]
		r.edges++
		if w := r.means[e.Kind&1]; w != nothing {
			a.tr.edge(float64(e.At), w, e.Channel)
		}
	}
	a.kept = nil
}

// abandon ends what works aside, where Finish did not.
func (a *Analyser) abandon() {
	if a.tr != nil && a.tr.aside != nil {
		a.tr.aside.close()
		a.tr.aside = nil
	}
}

func edgeKind(rising bool) waveform.EdgeKind {
	if rising {
		return waveform.Rise
	}
	return waveform.Fall
}

// route is what becomes of a channel's edges.
type route struct {
	means [2]what // by waveform.Rise and waveform.Fall
	edges int64   // so far
}

func (p *plan) routes() []route {
	out := make([]route, len(p.roles))
	for ch, role := range p.roles {
		both := &out[ch].means
		switch {
		case p.w == nil:
		case role == Crank && ch == p.a.crank:
			*both = [2]what{crankOther, crankOther}
			both[edgeKind(p.activeRising)] = crankActive
		case role == Cam && ch == p.a.cam:
			*both = [2]what{camRise, camFall}
		case role == Spark && p.spark[ch].by != "":
			*both = [2]what{sparkOn, sparkOn}
			both[edgeKind(p.spark[ch].sparkRising)] = sparkNow
		case role == Mark && ch == p.a.mark:
			both[edgeKind(p.mark.topRising)] = markTop
		}
	}
	return out
}

// state takes what is no edge.
func (a *Analyser) state(e *waveform.Edge) {
	switch e.Kind {
	case waveform.ShortHigh, waveform.ShortLow:
		if a.role[e.Channel] != Unknown {
			a.log.add(ShortPulse, float64(e.At), int(e.Channel))
		}
	case waveform.Lost:
		a.since[e.Channel] = float64(e.At)
	case waveform.FoundLow, waveform.FoundHigh:
		if t := a.since[e.Channel]; !math.IsNaN(t) {
			a.since[e.Channel] = math.NaN()
			if a.role[e.Channel] != Unknown {
				a.log.add(Dropout, t, int(e.Channel))
			}
		}
	}
}

// Finish says what the edges showed; res is what waveform.Scan gave.
func (a *Analyser) Finish(res *waveform.Result) *Result {
	if a.plan == nil {
		a.learn()
	}
	end := float64(res.End)
	if !(end >= a.last) {
		end = a.last
	}
	if a.tr != nil && !math.IsInf(a.last, 0) {
		a.tr.finish(end)
	}
	r := a.report(res)
	if d := float64(res.Duration()); d > 0 {
		r.DurationS = d
	} else if !math.IsNaN(a.start) {
		r.DurationS = end - a.start
	}
	if res.Partial != nil {
		r.Partial = res.Partial.Error()
	}
	for _, w := range res.Warnings {
		if len(r.Doubts) < 100 {
			r.Doubts = append(r.Doubts, w.Text)
		}
	}
	if a.back > 0 {
		r.Doubts = append(r.Doubts, fmt.Sprintf("%d edges go back in time, the first at %s: they were left out; export the recording again, in order of time", a.back, seconds(a.backT)))
	}
	if a.bad > 0 {
		r.Doubts = append(r.Doubts, fmt.Sprintf("%d edges belong to no channel or have no time: they were left out", a.bad))
	}
	return r
}
