package track

import (
	"math"

	"phasewright/quantity"
	"phasewright/shaft/motion"
	"phasewright/waveform"
)

// Series is an event that comes once in a period at a fixed place, such as the mark or a cam edge. Places count on
// through all cycles.
type Series struct {
	Period, At, Within quantity.Crank
	Channel            int
	log                *Log
	seen               bool
	last               float64 // period number of the last one met
	lastPoint          motion.Point
}

// NewSeries begins; anomalies go to the track's log.
func NewSeries(log *Log, channel int, period, at, within quantity.Crank) Series {
	return Series{Period: period, At: at, Within: within, Channel: channel, log: log}
}

// Reset forgets the last one met: the count of vanes was moved.
func (s *Series) Reset() { s.seen = false }

// End notes those left out up to the end of the run, and forgets the series.
func (s *Series) End(l *Passes) {
	if s.seen && l.Head > l.First {
		p := l.point(l.Head - 1)
		s.absent(l, math.Floor(float64((p.A-s.Within-s.At)/s.Period))+1, p)
	}
	s.seen = false
}

// Meet takes an event at the angle a: it gives the distance from its place, and whether it is one of the series. Ones
// left out and ones that do not belong are noted.
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

// absent notes those between the last one met and number q.
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

// SetLog sends the anomalies of a copied series to another log.
func (s *Series) SetLog(l *Log) { s.log = l }
