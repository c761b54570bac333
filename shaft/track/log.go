package track

import (
	"cmp"
	"slices"

	"phasewright/waveform"
)

// Kind is a kind of anomaly.
type Kind string

// The kinds.
const (
	MissingPulse Kind = "missing_pulse" // one or two expected pulses did not come
	ExtraPulse   Kind = "extra_pulse"   // a pulse that belongs to nothing
	ShortPulse   Kind = "short_pulse"   // a pulse at its place but far too short
	Dropout      Kind = "dropout"       // three or more in a row did not come
)

// Kinds are all kinds, in the order of printing.
var Kinds = []Kind{MissingPulse, ExtraPulse, ShortPulse, Dropout}

// Anomaly is one thing wrong with a signal.
type Anomaly struct {
	Kind    Kind
	T       waveform.Second
	Channel int
}

// Log keeps the first anomalies and counts all.
type Log struct {
	most  int
	list  []Anomaly
	Count map[Kind]int64
}

// NewLog makes a log that lists the first most anomalies and counts all.
func NewLog(most int) *Log { return &Log{most: most, Count: map[Kind]int64{}} }

// Add counts an anomaly, and lists it if there is room.
func (l *Log) Add(k Kind, t waveform.Second, channel int) {
	l.Count[k]++
	if len(l.list) < l.most {
		l.list = append(l.list, Anomaly{k, t, channel})
	}
}

// Most is how many are listed at the most.
func (l *Log) Most() int { return l.most }

// Sorted are the listed ones in order of time.
func (l *Log) Sorted() []Anomaly {
	out := slices.Clone(l.list)
	slices.SortStableFunc(out, func(a, b Anomaly) int { return cmp.Compare(a.T, b.T) })
	return out
}

// Clone is a copy that shares nothing with l.
func (l *Log) Clone() *Log {
	c := NewLog(l.most)
	c.list = slices.Clone(l.list)
	for k, n := range l.Count {
		c.Count[k] = n
	}
	return c
}
