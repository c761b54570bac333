package waveform

import (
	"math"
	"slices"

	"phasewright/waveform/block"
)

// How much is looked at before levels are known: stretches spread over the file, and its beginning as a whole, since
// cranking comes first, is short, and its pulses are few.
const (
	surveyText   = 4 << 20 // bytes of a table
	surveyValues = 1 << 20 // samples of all channels of a sound-card recording
	surveyParts  = 64
	surveyPiece  = 256 << 10 // read at once
)

// stretches gives text of a body to be surveyed, whole units each.
type stretches struct {
	src       *source
	body, end int64 // end: as far as it is known, else the greatest number
	unit      int64 // stretches begin at a multiple of so many bytes from the beginning
	split     func(b []byte, last bool) int
	resync    func(b []byte) int // where the first whole unit begins
}

// whole says that the beginning is all that can be surveyed, or all there is.
func (s *stretches) whole(total int64) bool { return s.src.at == nil || s.end-s.body <= total }

// beginning gives about total bytes from the beginning, in pieces that follow one another, until take has had enough.
func (s *stretches) beginning(total int64, take func(text []byte, last bool) (more bool)) {
	buf := make([]byte, surveyPiece)
	for at := s.body; at < min(s.end, s.body+total); {
		n, _ := s.src.ReadAt(buf[:min(int64(len(buf)), s.end-at)], at)
		last := n < len(buf)
		cut := n
		if !last {
			cut = s.split(buf[:n], false)
		}
		if cut == 0 || !take(buf[:cut], last) || last {
			return
		}
		at += int64(cut)
	}
}

// spread gives count stretches of total bytes in all, spread evenly over the file.
func (s *stretches) spread(total, count int64, take func(text []byte)) {
	part := total / count
	buf := make([]byte, part)
	for i := range count {
		at := i * (s.end - s.body - part) / (count - 1) / s.unit * s.unit
		n, _ := s.src.ReadAt(buf, s.body+at)
		text := buf[:n]
		if i > 0 {
			text = text[s.resync(text):]
		}
		if text = text[:s.split(text, false)]; len(text) > 0 {
			take(text)
		}
	}
}

// surveyed are the samples from which channels are judged, by channel.
type surveyed struct {
	segs   [][][]float64 // stretches
	starts [][]float64   // the beginning; nil where it is all that is surveyed
}

// survey samples a table. first is called with the first rows.
func (t *table) survey(src *source, first func(*block.Rows)) surveyed {
	s := stretches{src, t.body, t.end, max(1, t.unit), t.lay.Split, t.lay.Resync}
	if s.end < 0 {
		s.end = math.MaxInt64
	}
	out := surveyed{segs: make([][][]float64, t.channels)}
	starts := make([][]float64, t.channels)
	if t.sized() {
		for ch := range starts {
			starts[ch] = make([]float64, 0, max(0, min(t.surveyed, s.end-s.body))/t.unit)
		}
	}
	parser := t.parser()
	var rows block.Rows
	s.beginning(t.surveyed, func(text []byte, last bool) bool {
		parser.Parse(text, last, &rows)
		if first != nil {
			first(&rows)
			first = nil
		}
		for ch, v := range rows.Values {
			starts[ch] = appendValues(starts[ch], v, rows.Gaps[ch])
		}
		return rows.Problem == nil
	})
	if s.whole(t.surveyed) {
		for ch, v := range starts {
			out.segs[ch] = [][]float64{v}
		}
		return out
	}
	s.spread(t.surveyed, surveyParts, func(text []byte) {
		parser.Parse(text, false, &rows)
		for ch, v := range rows.Values {
			out.segs[ch] = append(out.segs[ch], appendValues(nil, v, rows.Gaps[ch]))
		}
	})
	out.starts = starts
	return out
}

// appendValues appends the values that are there; without gaps all are.
func appendValues(to, v []float64, gaps bool) []float64 {
	if !gaps {
		return append(to, v...)
	}
	to = slices.Grow(to, len(v))
	for _, x := range v {
		if x == x {
			to = append(to, x)
		}
	}
	return to
}
