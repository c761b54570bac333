package track

import (
	"math"

	"phasewright/quantity"
	"phasewright/shaft/motion"
	"phasewright/waveform"
)

// Series follows an event that comes once in a period at a fixed place: the mark once a turn, a cam edge once a cycle.
// It logs those that did not come and those that do not belong.
type Series struct {
	Period, At, Within quantity.Crank
	Channel            int
	log                *Log
	seen               bool
	last               float64 // number of the period that the last one came in
	lastPoint          motion.Point
}

// NewSeries makes a Series: the event belongs at the angle at of each period and may stand up to within from it.
func NewSeries(log *Log, channel int, period, at, within quantity.Crank) Series {
	return Series{Period: period, At: at, Within: within, Channel: channel, log: log}
}

// Reset forgets the last one: the vanes got other numbers, so angles before and after cannot be compared.
func (s *Series) Reset() { s.seen = false }

// End logs those that did not come up to the end of the run, and forgets the last one.
func (s *Series) End(l *Passes) {
	if s.seen && l.Head > l.First {
		p := l.point(l.Head - 1)
		s.absent(l, math.Floor(float64((p.A-s.Within-s.At)/s.Period))+1, p)
	}
	s.seen = false
}

// Meet takes an event at the angle a and time t. off is its distance from its place, late positive; fits is false where
// that is too far, or where this period already had one. It logs such an extra one, and those that did not come since
// the last.
func (s *Series) Meet(l *Passes, a quantity.Crank, t waveform.Second) (off quantity.Crank, fits bool) {
	q := math.Round(float64((a - s.At) / s.Period))
	off = a - s.At - quantity.Crank(q)*s.Period
	if quantity.Abs(off) > s.Within || s.seen && q <= s.last {
		s.log.Add(ExtraPulse, t, s.Channel)
		return off, false
	}
	if s.seen {
		s.absent(l, q, motion.Point{T: t, A: a})
	}
	s.seen, s.last, s.lastPoint = true, q, motion.Point{T: t, A: a}
	return off, true
}

// absent logs those of the periods between the last one and period q: one by one up to two, as one dropout from three
// on.
func (s *Series) absent(l *Passes, q float64, now motion.Point) {
	gone := int(q-s.last) - 1
	when := func(j int) waveform.Second {
		return l.timeAt(s.At+quantity.Crank(s.last+float64(j))*s.Period, s.lastPoint, now)
	}
	if gone >= 3 {
		s.log.Add(Dropout, when(1), s.Channel)
		return
	}
	for j := 1; j <= gone; j++ {
		s.log.Add(MissingPulse, when(j), s.Channel)
	}
}

// SetLog makes a copied series write to another log.
func (s *Series) SetLog(l *Log) { s.log = l }
