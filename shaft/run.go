package shaft

import (
	"context"
	"fmt"
	"math"
	"slices"

	"phasewright/shaft/roles"
	"phasewright/shaft/terms"
	"phasewright/shaft/track"
	"phasewright/shaft/wheel"
	"phasewright/waveform"
)

// Run reads source to its end and gives what it shows.
//
// Errors are options that contradict one another, a source that cannot be read, and the end of ctx. Where the source
// fails or ctx ends after some edges, the Result of those comes with the error and is marked Partial. A recording that
// is merely cut off gives a Result marked Partial and no error.
func Run(ctx context.Context, source Source, opt Options) (*Result, error) {
	a, err := New(opt)
	if err != nil {
		return nil, err
	}
	res, err := source.Scan(ctx, a)
	if err != nil && (res == nil || !a.begun) {
		return nil, err
	}
	r := a.Result(res)
	if err != nil && r.Partial == "" {
		r.Partial = err.Error()
	}
	return r, err
}

const (
	stretch = 1 << 17 // edges of the first stretch, from which roles and wheel are learnt: 3 MiB
	latest  = 1e9     // seconds; an edge at a later time is counted as bad: thirty years
)

// Analyser does the work of Run for a caller that reads the recording itself: it is a waveform.Sink for waveform.Scan,
// and its Result may be asked for at any moment. Each recording needs an Analyser of its own.
type Analyser struct {
	facts      *terms.Facts
	mostListed int
	tee        waveform.Sink
	info       waveform.Info
	begun      bool
	kept       []waveform.Edge // the first stretch, until it is long enough to learn roles and wheel from
	f          *pipeline       // follows the shaft from then on; nil before
	last       waveform.Second
	start      waveform.Second
	first      bool // an edge was seen
	back       int64
	backT      waveform.Second
	bad        int64 // edges of no channel, or at an impossible time
}

var _ interface {
	waveform.Sink
	waveform.Reviser
} = (*Analyser)(nil)

// New makes an Analyser; the error names the option that is wrong.
func New(opt Options) (*Analyser, error) {
	facts, err := opt.facts()
	if err != nil {
		return nil, err
	}
	most := opt.MostAnomalies
	if most == 0 {
		most = 1000
	}
	return &Analyser{facts: facts, mostListed: most, tee: opt.Tee, last: waveform.Second(math.Inf(-1))}, nil
}

// Begin takes the recording's channels.
func (a *Analyser) Begin(info waveform.Info) error {
	a.info, a.begun = info, true
	a.info.Channels = append([]waveform.Channel(nil), info.Channels...)
	roles := map[string]Role{}
	for name, r := range a.facts.Roles { // a channel may be stated by its alias, or by the last part of its name
		if i, err := waveform.Lookup(info.Channels, name); err == nil {
			name = info.Channels[i].Name
		}
		roles[name] = r
	}
	a.facts.Roles = roles
	if a.tee != nil {
		return a.tee.Begin(info)
	}
	return nil
}

// Revise takes the levels of a channel that the reader has learnt since Begin.
func (a *Analyser) Revise(index int, c waveform.Channel) error {
	if index >= 0 && index < len(a.info.Channels) {
		a.info.Channels[index] = c
	}
	if t, ok := a.tee.(waveform.Reviser); ok {
		return t.Revise(index, c)
	}
	return nil
}

// Edges takes the next edges. Those that go back in time, and bad ones, are left out and counted.
func (a *Analyser) Edges(batch []waveform.Edge) error {
	if a.tee != nil {
		if err := a.tee.Edges(batch); err != nil {
			return err
		}
	}
	for i := range batch {
		e := &batch[i]
		switch {
		case uint(e.Channel) >= uint(len(a.info.Channels)) || !(math.Abs(float64(e.At)) < latest):
			a.bad++
			continue
		case e.At < a.last:
			if a.back == 0 {
				a.backT = e.At
			}
			a.back++
			continue
		}
		if !a.first {
			a.first, a.start = true, e.At
		}
		a.last = e.At
		if a.f != nil {
			a.f.edge(e)
			continue
		}
		if len(a.kept) == cap(a.kept) { // append alone would make room, and copy, three times as much
			a.kept = slices.Grow(a.kept, max(1024, len(a.kept)))
		}
		if a.kept = append(a.kept, *e); len(a.kept) == stretch {
			a.f = a.follow(a.kept)
			a.kept = nil
		}
	}
	return nil
}

// follow learns roles and wheel from the first stretch, and then follows the shaft through it.
func (a *Analyser) follow(edges []waveform.Edge) *pipeline {
	f := newPipeline(a.facts, a.info, edges, a.mostListed)
	for i := range edges {
		f.edge(&edges[i])
	}
	return f
}

// Result gives what the edges so far show; res is what the reader knows of the recording. It works on a copy, so it may
// be asked for at any moment without changing what comes later.
func (a *Analyser) Result(res *waveform.Result) *Result {
	var f *pipeline
	if a.f == nil {
		f = a.follow(a.kept)
	} else {
		f = a.f.clone()
	}
	end := res.End
	if !(end >= a.last) {
		end = a.last
	}
	if f.track != nil && a.first {
		if f.rings {
			f.filtered(waveform.Second(math.Inf(1)))
		}
		f.track.End(end)
	}
	r := f.report(a.info, res)
	if d := float64(res.Duration()); d > 0 {
		r.DurationS = d
	} else if a.first {
		r.DurationS = float64(end - a.start)
	}
	if res.Partial != nil {
		r.Partial = res.Partial.Error()
	}
	doubt := func(format string, v ...any) { r.Doubts = append(r.Doubts, fmt.Sprintf(format, v...)) }
	for i, w := range res.Warnings {
		if i < 100 {
			r.Doubts = append(r.Doubts, w.Text)
		}
	}
	if a.back > 0 {
		doubt("%d edges go back in time, the first at %s: they were left out; export the recording again, in "+
			"order of time", a.back, seconds(float64(a.backT)))
	}
	if a.bad > 0 {
		doubt("%d edges belong to no channel or have no time: they were left out", a.bad)
	}
	return r
}

// pipeline follows the shaft of a recording whose channels are identified: it sends each edge where its channel's role
// says.
type pipeline struct {
	*identified
	track    *track.Track // nil: the shaft cannot be followed
	observer *observer

	route   [][2]track.What      // by channel: what its rising edges (0) and falling edges (1) mean to the track
	edges   []int64              // by channel
	others  int64                // edges that are neither rising nor falling: short pulses, lost levels
	lost    []waveform.Second    // by channel: since when its level is unknown; NaN: it is known
	filters []*roles.SpikeFilter // by channel; nil: the channel does not ring
	rings   bool                 // some channel rings
	log     *track.Log           // of anomalies that the track does not see
}

// identified is what the first stretch shows of the channels; it does not change any more.
type identified struct {
	facts    *terms.Facts
	profiles []*roles.Profile
	judge    *roles.Judge
	assigned roles.Assignment
	roles    []Role
	reasons  []string
	layout   *wheel.Layout // nil: no crank signal, or no number of vanes
	findings terms.Findings
	alone    *Alone
}

// newPipeline identifies the channels from the first stretch, and makes the track where there is a shaft to follow. It
// does not yet send the edges through.
func newPipeline(facts *terms.Facts, info waveform.Info, edges []waveform.Edge, mostListed int) *pipeline {
	f := &pipeline{identified: identify(facts, info, edges), edges: make([]int64, len(info.Channels)),
		route: make([][2]track.What, len(info.Channels)),
		lost:  make([]waveform.Second, len(info.Channels)), log: track.NewLog(mostListed)}
	for i := range f.lost {
		f.lost[i] = waveform.Second(math.NaN())
	}
	if f.layout != nil {
		f.observer = newObserver(f.layout)
		f.track = track.New(f.layout, f.observer, mostListed)
		f.observer.track = f.track
		f.routes()
		f.filters = make([]*roles.SpikeFilter, len(info.Channels))
		for i, p := range f.profiles {
			if p.Rings && f.route[i] != [2]track.What{} {
				f.filters[i], f.rings = &roles.SpikeFilter{}, true
			}
		}
	}
	return f
}

// clone is a copy that shares nothing that changes.
func (f *pipeline) clone() *pipeline {
	c := *f
	c.edges, c.lost = append([]int64(nil), f.edges...), append([]waveform.Second(nil), f.lost...)
	c.log = f.log.Clone()
	c.filters = make([]*roles.SpikeFilter, len(f.filters))
	for i, q := range f.filters {
		if q != nil {
			copied := *q
			c.filters[i] = &copied
		}
	}
	if f.track != nil {
		c.observer = f.observer.clone()
		c.track = f.track.Clone(c.observer)
		c.observer.track = c.track
		c.observer.mark.SetLog(c.track.Log)
	}
	return &c
}

// routes fills in what the edges of each channel mean to the track.
func (f *pipeline) routes() {
	by := func(rising bool) int { // index into a route: waveform.Rise is 0
		if rising {
			return int(waveform.Rise)
		}
		return int(waveform.Fall)
	}
	l := f.layout
	for i, role := range f.roles {
		r := &f.route[i]
		switch {
		case role == Crank && i == f.assigned.Crank:
			*r = [2]track.What{track.CrankOther, track.CrankOther}
			r[by(l.ActiveRising)] = track.CrankActive
		case role == Cam && i == f.assigned.Cam:
			*r = [2]track.What{track.CamRises, track.CamFalls}
		case role == Spark && l.Spark[i].By != "":
			*r = [2]track.What{track.PulseBegins, track.PulseBegins}
			r[by(l.Spark[i].Rising)] = track.Sparks
		case role == Mark && i == f.assigned.Mark && l.Mark.On:
			r[by(l.Mark.TopRising)] = track.MarkAtTop
		}
	}
}

// edge takes an edge of the recording, in order of time.
func (f *pipeline) edge(e *waveform.Edge) {
	if f.rings {
		f.filtered(e.At)
	}
	if e.Kind <= waveform.Fall {
		f.edges[e.Channel]++
		if f.rings && f.filters[e.Channel] != nil {
			f.filters[e.Channel].Edge(e.At, e.Kind == waveform.Rise)
		} else if w := f.route[e.Channel][e.Kind]; w != track.Nothing {
			f.track.Edge(e.At, w, int(e.Channel))
		}
		return
	}
	f.others++
	known := f.roles[e.Channel] != Unknown
	switch e.Kind {
	case waveform.ShortHigh, waveform.ShortLow:
		if known {
			f.log.Add(track.ShortPulse, e.At, int(e.Channel))
		}
	case waveform.Lost:
		f.lost[e.Channel] = e.At
	case waveform.FoundLow, waveform.FoundHigh:
		if t := f.lost[e.Channel]; !math.IsNaN(float64(t)) {
			f.lost[e.Channel] = waveform.Second(math.NaN())
			if known {
				f.log.Add(track.Dropout, t, int(e.Channel))
			}
		}
	}
}

// filtered sends on what has become certain, at the time now, of the channels that ring.
func (f *pipeline) filtered(now waveform.Second) {
	for i, q := range f.filters {
		if q == nil {
			continue
		}
		v, ok := q.Certain(now)
		if !ok {
			continue
		}
		if v.Spikes {
			f.track.Log.Add(track.ExtraPulse, v.At, i)
		}
		kind := waveform.Fall
		if v.High {
			kind = waveform.Rise
		}
		if w := f.route[i][kind]; v.Changed && w != track.Nothing {
			f.track.Edge(v.At, w, i)
		}
	}
}
