package roles

import (
	"math"
	"strings"

	"phasewright/shaft/sums"
	"phasewright/shaft/terms"
	"phasewright/waveform"
)

const (
	lookedAt = 20000 // most rising, and most falling, edges of a channel that are looked at
	// growth is measured where ln(mean period) of blocks of pulses has at least this standard deviation
	speedVaries  = 0.03
	growthUnsure = 0.15 // largest standard uncertainty of a growth that still tells 0 from 1
)

// A channel rings where more than ringsOften of its edges, and more than the share ringsShare, are spikes (assumed).
const (
	ringsOften = 40
	ringsShare = 0.1
)

// Bounds of growth, d ln(width)/d ln(period): 1 for metal, whose width in degrees is fixed; 0 for a fixed time, such as
// a dwell.
const (
	grows    = 0.7
	stays    = 0.45
	outgrows = 1.3 // more: the state is what a dwell leaves of the period

	longestDwell = 12e-3 // seconds (assumed)
)

// Profile is what the first stretch shows of one channel.
type Profile struct {
	Name       string
	Usable     bool
	Reluctance bool // its edges are the zero crossings of a reluctance pickup
	Relative   bool // recorded through a sound card
	Ramp       bool // its level climbs slowly and ends sharply, as a coil's current does
	Rise, Fall []waveform.Second
	Train      Train // where it gives several sparks a firing; the later ones are not in Rise and Fall

	Duty        float64 // share of time at high
	High, Low   float64 // median pulse widths, seconds
	NarrowHigh  bool    // the shorter state is the high one
	Period      float64 // median time between rising edges, seconds
	Growth      float64 // d ln(width of the shorter state)/d ln(period): 1 for metal, 0 for a fixed time
	GrowthKnown bool    // speed varied enough to tell
	HighSpread  float64 // robust standard deviation of ln(width) of the high state, and of the low one
	LowSpread   float64
	Wander      float64 // relative standard deviation of the mean period of blocks of pulses
	Named       terms.Role
	Reason      string // why it is not usable
	DuplicateOf int    // an earlier channel with the same edges; −1: none
	began       float64
	TooNarrow   int  // number of edges left out as spikes
	Rings       bool // there are so many that the channel must be read through a SpikeFilter
}

// metal and time say how the pulse width depends on the period, where speed varied enough to see it: metal grows with
// it, a fixed time does not. A pulse longer than any dwell is no fixed time: on the starter, compression can make vanes
// look like one.
func (p *Profile) metal() bool { return p.GrowthKnown && p.Growth >= grows && !p.left() }
func (p *Profile) time() bool {
	return p.GrowthKnown && p.Growth <= stays && math.Min(p.High, p.Low) < longestDwell || p.left()
}

// left says that the shorter state is what a dwell leaves of the period: then it grows more than the period does, as no
// metal can.
func (p *Profile) left() bool {
	return p.GrowthKnown && p.Growth > outgrows && p.narrow() > 0.05 && math.Max(p.High, p.Low) < longestDwell
}

// narrow is the share of time of the shorter state.
func (p *Profile) narrow() float64 { return math.Min(p.Duty, 1-p.Duty) }

// Edges are the edges of one kind.
func (p *Profile) Edges(rising bool) []waveform.Second {
	if rising {
		return p.Rise
	}
	return p.Fall
}

// namedRole is the role that the usual words in a channel's name mean.
func namedRole(name string) terms.Role {
	words := strings.FieldsFunc(strings.ToLower(name), func(r rune) bool { return r < 'a' || r > 'z' })
	for i := len(words) - 1; i >= 0; i-- {
		switch words[i] {
		case "crank", "crankshaft":
			return terms.Crank
		case "cam", "camshaft":
			return terms.Cam
		case "spark", "coil", "clamp":
			return terms.Spark
		case "mark", "tdc":
			return terms.Mark
		}
	}
	return terms.Unknown
}

// Profiles sorts the edges by channel, leaves out spikes and the later sparks of trains, and measures each channel.
func Profiles(channels []waveform.Channel, edges []waveform.Edge) []*Profile {
	ps := make([]*Profile, len(channels))
	short := make([]int, len(channels))
	for i, c := range channels {
		ps[i] = &Profile{Name: c.Name, Named: namedRole(c.Name), DuplicateOf: -1,
			Reluctance: c.Method == waveform.ByZeroCrossing, Relative: c.Relative, Ramp: c.Ramp}
	}
	for _, e := range edges {
		if int(e.Channel) >= len(ps) || e.Channel < 0 {
			continue
		}
		p := ps[e.Channel]
		switch {
		case e.Kind == waveform.Rise && len(p.Rise) < lookedAt:
			p.Rise = append(p.Rise, e.At)
		case e.Kind == waveform.Fall && len(p.Fall) < lookedAt:
			p.Fall = append(p.Fall, e.At)
		case e.Kind == waveform.ShortHigh || e.Kind == waveform.ShortLow:
			short[e.Channel]++
		}
	}
	for i, p := range ps {
		if !p.Reluctance {
			n := len(p.Rise) + len(p.Fall)
			p.Rise, p.Fall = withoutSpikes(p.Rise, p.Fall)
			p.TooNarrow = n - len(p.Rise) - len(p.Fall)
			p.Rings = p.TooNarrow > ringsOften && float64(p.TooNarrow) > ringsShare*float64(n)
			p.Rise, p.Fall, p.Train = withoutTrains(p.Rise, p.Fall)
		}
		var start, end waveform.Second
		if len(edges) > 0 {
			start, end = edges[0].At, edges[len(edges)-1].At
		}
		p.measure(channels[i], short[i], start, end)
		for j := range i {
			if p.Usable && ps[j].Usable && same(ps[j], p) {
				p.DuplicateOf = j
				break
			}
		}
	}
	return ps
}

// measure fills in what the edges show, or Reason where they are too few. short counts pulses that were too short to be
// edges; start and end are those of the stretch.
func (p *Profile) measure(c waveform.Channel, short int, start, end waveform.Second) {
	p.Growth, p.Duty = math.NaN(), math.NaN()
	switch {
	case c.Kind == waveform.Bus:
		p.Reason = "several bits: changes are counted, no edges are given"
		return
	case len(p.Rise)+len(p.Fall) == 0 && short > 0:
		p.Reason = "only pulses too short to be signals"
		return
	case len(p.Rise)+len(p.Fall) == 0:
		p.Reason = "stays still"
		return
	case len(p.Rise) < 3 || len(p.Fall) < 3:
		p.Reason = "too few edges to tell"
		return
	}
	high, low, period := p.pulses()
	if len(high) < 2 {
		p.Reason = "too few whole pulses to tell"
		return
	}
	p.Usable = true
	if end > start {
		p.began = float64((min(p.Rise[0], p.Fall[0]) - start) / (end - start))
	}
	sumHigh, sum := 0.0, 0.0
	for i := range high {
		sumHigh += high[i]
		sum += period[i]
	}
	p.Duty = sumHigh / sum
	p.NarrowHigh = p.Duty <= 0.5
	p.Growth, p.GrowthKnown = growth(high, low, period, p.NarrowHigh, speedVaries)
	// A dwell that takes more than half of the time is the longer state. The shorter one is then the rest of the period
	// and grows faster than it, as no metal does. Where that does not show, only a wide range of speeds shows that the
	// longer state stays the same.
	varies := 5 * speedVaries
	if p.GrowthKnown && p.Growth > outgrows {
		varies = speedVaries
	}
	told := p.GrowthKnown && p.Growth <= stays
	if other, known := growth(high, low, period, !p.NarrowHigh, varies); known && other <= stays && !told {
		p.Growth, p.GrowthKnown = other, true
	}
	p.HighSpread, p.LowSpread = logSpread(high), logSpread(low)
	p.High, p.Low, p.Period = sums.Median(high), sums.Median(low), sums.Median(period)
	p.Wander = math.Min(wander(p.Rise), wander(p.Fall))
}

// pulses are, for each rise with a fall before the next rise, the widths of high and low and their sum, seconds.
func (p *Profile) pulses() (high, low, period []float64) {
	j := 0
	for i := 0; i+1 < len(p.Rise); i++ {
		for j < len(p.Fall) && p.Fall[j] <= p.Rise[i] {
			j++
		}
		if j == len(p.Fall) {
			break
		}
		if f := p.Fall[j]; f < p.Rise[i+1] {
			high = append(high, float64(f-p.Rise[i]))
			low = append(low, float64(p.Rise[i+1]-f))
			period = append(period, float64(p.Rise[i+1]-p.Rise[i]))
		}
	}
	return high, low, period
}

// blockSize is over how many of n pulses widths and periods are averaged: an eighth of them, at least 2 and at most 12.
// Never 1: on the starter, compression makes neighbouring pulses differ.
func blockSize(n int) int { return max(2, min(12, n/8)) }

// growth is the slope of ln(mean width) against ln(mean period) over blocks of pulses, by least squares. It is known
// where the periods vary by at least varies (standard deviation of their logarithm) and its own standard uncertainty is
// below growthUnsure.
func growth(high, low, period []float64, narrowHigh bool, varies float64) (slope float64, known bool) {
	width := high
	if !narrowHigh {
		width = low
	}
	var m sums.Moments
	size := blockSize(len(period))
	for i := 0; i+size <= len(period); i += size {
		w, t := 0.0, 0.0
		for j := i; j < i+size; j++ {
			w += width[j]
			t += period[j]
		}
		if w > 0 && t > 0 {
			m.Add(math.Log(t), 0, math.Log(w))
		}
	}
	if m.N < 4 {
		return math.NaN(), false
	}
	vx := m.XX/m.N - m.X*m.X/m.N/m.N
	if vx < varies*varies {
		return math.NaN(), false
	}
	slope = (m.YX/m.N - m.X*m.Y/m.N/m.N) / vx
	rest := math.Max(0, (m.YY/m.N-m.Y*m.Y/m.N/m.N)/vx-slope*slope)
	return slope, math.Sqrt(rest/(m.N-2)) < growthUnsure
}

// wander is the standard deviation of the mean period of blocks of edges, as a share of the mean.
func wander(t []waveform.Second) float64 {
	var m sums.Mean
	size := blockSize(len(t) - 1)
	for i := 0; i+size < len(t); i += size {
		m.Add(float64(t[i+size]-t[i]) / float64(size))
	}
	if m.N < 2 {
		return math.NaN()
	}
	return m.SD() / m.Mean()
}

// logSpread is the robust standard deviation of ln(v).
func logSpread(v []float64) float64 {
	w := make([]float64, 0, len(v))
	for _, x := range v {
		if x > 0 {
			w = append(w, math.Log(x))
		}
	}
	_, sd := sums.Spread(w)
	return sd
}

// same says whether two channels carry the same edges, upright or upside down.
func same(a, b *Profile) bool {
	return twins(a.Rise, b.Rise, a.Period) && twins(a.Fall, b.Fall, a.Period) ||
		twins(a.Rise, b.Fall, a.Period) && twins(a.Fall, b.Rise, a.Period)
}

// twins says whether nearly all edges of a have one of b within a thousandth of the period.
func twins(a, b []waveform.Second, period float64) bool {
	if d := len(a) - len(b); d > 2 || d < -2 || len(a) == 0 || len(b) == 0 {
		return false
	}
	return together(a, b, waveform.Second(1e-3*period)) >= 0.95
}

// together is the share of the times a that have one of b nearer than within.
func together(a, b []waveform.Second, within waveform.Second) float64 {
	if len(a) == 0 || len(b) == 0 {
		return 0
	}
	near, j := 0, 0
	for _, t := range a {
		for j+1 < len(b) && b[j+1] <= t {
			j++
		}
		d := min(abs(b[j]-t), abs(b[min(j+1, len(b)-1)]-t))
		if d < within {
			near++
		}
	}
	return float64(near) / float64(len(a))
}

func abs(v waveform.Second) waveform.Second { return max(v, -v) }
