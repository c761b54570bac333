package shaft

import (
	"context"

	"phasewright/waveform"
)

// looped repeats the same edges with later times, so that a stream of any length needs little memory.
type looped struct {
	edges  []waveform.Edge
	period float64
	times  int
	batch  []waveform.Edge
}

func (l *looped) Scan(_ context.Context, sink waveform.Sink) (*waveform.Result, error) {
	in := info(fourNames...)
	if err := sink.Begin(in); err != nil {
		return nil, err
	}
	l.batch = make([]waveform.Edge, 4096)
	for i := range l.times {
		for rest := l.edges; len(rest) > 0; {
			n := copy(l.batch, rest)
			for j := range l.batch[:n] {
				l.batch[j].At += waveform.Second(float64(i) * l.period)
			}
			if err := sink.Edges(l.batch[:n]); err != nil {
				return nil, err
			}
			rest = rest[n:]
		}
	}
	return &waveform.Result{Info: in, End: waveform.Second(float64(l.times) * l.period)}, nil
}

// loop makes a drive that ends as it began, at one angle and one speed, so that it can be joined to itself.
func loop(jitter float64) *looped {
	d, deg, sec := legs(800, point{5000, 5}, point{5000, 2}, point{800, 4}, point{800, 0.5})
	whole := float64(int(deg/720)) * 720
	s := eight(d, 0, deg+720)
	s.jitter = jitter
	var kept []waveform.Edge
	end := d.at(whole)
	_ = sec
	for _, e := range s.run() {
		if float64(e.At) < end {
			kept = append(kept, e)
		}
	}
	return &looped{edges: kept, period: end}
}
