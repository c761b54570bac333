package shaft

import (
	"math"
	"sort"
	"strings"

	"phasewright/waveform"
)

const (
	stretch      = 1 << 17 // edges kept to tell the roles: 3 MiB
	lookedAt     = 20000   // edges of one kind a channel that the roles are judged on
	speedVaries  = 0.03    // standard deviation of the logarithm of the period over blocks of pulses, from which on their growth is looked at
	growthUnsure = 0.15    // standard uncertainty of a growth that tells 0 from 1
	contender    = 12      // channels, the busiest, that may carry a role
)

// profile is what the first stretch shows of one channel.
type profile struct {
	index      int
	name       string
	usable     bool
	zero       bool // edges are zero crossings of a reluctance pickup
	relative   bool // recorded through a sound card
	ramp       bool // climbs slowly and ends sharply
	rise, fall []float64

	duty         float64 // share of time at high
	high, low    float64 // middle pulse widths, seconds
	narrowHigh   bool    // the shorter state is the high one
	period       float64 // middle time between rising edges
	growth       float64 // d ln(width of the shorter state) / d ln(period): 1 in metal, 0 in time
	growthKnown  bool    // speed varied enough to tell
	highSteady   float64 // spread of ln(high width), of ln(low width)
	lowSteady    float64
	named        Role // what its name hints at
	reason       string
	duplicateOf  int     // channel that carries the same edges; -1
	beganLate    float64 // first edge, share of the stretch
	lastOf       float64
	shorts, lost int
	spikes       int // pulses left out for the roles, far shorter than the others
}

// namedRole reads the usual words in a channel's name.
func namedRole(name string) Role {
	words := strings.FieldsFunc(strings.ToLower(name), func(r rune) bool {
		return !(r >= 'a' && r <= 'z')
	})
	for i := len(words) - 1; i >= 0; i-- {
		switch words[i] {
		case "crank", "crankshaft":
			return Crank
		case "cam", "camshaft":
			return Cam
		case "spark", "coil", "clamp":
			return Spark
		case "mark", "tdc":
			return Mark
		}
	}
	return Unknown
}

// profiles sorts the kept edges by channel and measures each.
func profiles(channels []waveform.Channel, edges []waveform.Edge) []*profile {
	ps := make([]*profile, len(channels))
	rises, falls := make([]int, len(channels)), make([]int, len(channels))
	for _, e := range edges {
		if c := int(e.Channel); c >= 0 && c < len(ps) {
			switch e.Kind {
			case waveform.Rise:
				rises[c]++
			case waveform.Fall:
				falls[c]++
			}
		}
	}
	for i, c := range channels {
		ps[i] = &profile{index: i, name: c.Name, named: namedRole(c.Name), duplicateOf: -1,
			rise: make([]float64, 0, min(rises[i], lookedAt)), fall: make([]float64, 0, min(falls[i], lookedAt))}
	}
	for _, e := range edges {
		if c := int(e.Channel); c >= 0 && c < len(ps) {
			p := ps[c]
			switch e.Kind {
			case waveform.Rise:
				if len(p.rise) < lookedAt {
					p.rise = append(p.rise, float64(e.At))
				}
			case waveform.Fall:
				if len(p.fall) < lookedAt {
					p.fall = append(p.fall, float64(e.At))
				}
			case waveform.ShortHigh, waveform.ShortLow:
				p.shorts++
			case waveform.Lost:
				p.lost++
			}
		}
	}
	var start, end float64
	if len(edges) > 0 {
		start, end = float64(edges[0].At), float64(edges[len(edges)-1].At)
	}
	for i, p := range ps {
		if channels[i].Method != waveform.ByZeroCrossing {
			n := len(p.rise) + len(p.fall)
			p.rise, p.fall = withoutSpikes(p.rise, p.fall)
			p.spikes = (n - len(p.rise) - len(p.fall)) / 2
		}
		p.measure(channels[i], start, end)
	}
	for i, p := range ps {
		for j := range i {
			if p.usable && ps[j].usable && same(ps[j], p) {
				p.duplicateOf = j
				break
			}
		}
	}
	return ps
}

func (p *profile) measure(c waveform.Channel, start, end float64) {
	p.growth, p.duty = math.NaN(), math.NaN()
	p.zero, p.relative, p.ramp = c.Method == waveform.ByZeroCrossing, c.Relative, c.Ramp
	switch {
	case c.Kind == waveform.Bus:
		p.reason = "several bits: changes are counted, no edges are given"
		return
	case len(p.rise)+len(p.fall) == 0 && p.shorts > 0:
		p.reason = "only pulses too short to be signals"
		return
	case len(p.rise)+len(p.fall) == 0:
		p.reason = "stays still"
		return
	case len(p.rise) < 3 || len(p.fall) < 3:
		p.reason = "too few edges to tell"
		return
	}
	high, low, period := p.pulses()
	if len(high) < 2 || len(low) < 2 {
		p.reason = "too few whole pulses to tell"
		return
	}
	p.usable = true
	first := math.Min(p.rise[0], p.fall[0])
	last := math.Max(p.rise[len(p.rise)-1], p.fall[len(p.fall)-1])
	if end > start {
		p.beganLate, p.lastOf = (first-start)/(end-start), (last-start)/(end-start)
	}
	var sumHigh, sum float64
	for i := range high {
		sumHigh += high[i]
		sum += period[i]
	}
	p.duty = sumHigh / sum
	p.narrowHigh = p.duty <= 0.5
	p.growth, p.growthKnown = growth(high, low, period, p.narrowHigh, speedVaries)
	if other, known := growth(high, low, period, !p.narrowHigh, 5*speedVaries); known && other <= 0.45 && !(p.growthKnown && p.growth <= 0.45) {
		p.growth, p.growthKnown = other, true // a dwell that at speed takes more than half of the time; only a wide range of speeds shows it
	}
	p.highSteady, p.lowSteady = logSpread(high), logSpread(low)
	p.high, p.low, p.period = median(high), median(low), median(period)
}

// pulses are the widths of high and low and the time from rise to rise.
func (p *profile) pulses() (high, low, period []float64) {
	j := 0
	for i := 0; i+1 < len(p.rise); i++ {
		for j < len(p.fall) && p.fall[j] <= p.rise[i] {
			j++
		}
		if j == len(p.fall) {
			break
		}
		if f := p.fall[j]; f < p.rise[i+1] {
			high = append(high, f-p.rise[i])
			low = append(low, p.rise[i+1]-f)
			period = append(period, p.rise[i+1]-p.rise[i])
		}
	}
	return high, low, period
}

// growth is the slope of ln(mean width) against ln(mean period) over blocks of pulses. A vane's width grows with the period (1), a
// dwell or a clamp's pulse does not (0). It is not known where its own standard uncertainty leaves the two a few steps apart.
func growth(high, low, period []float64, narrowHigh bool, varies float64) (slope float64, known bool) {
	width := high
	if !narrowHigh {
		width = low
	}
	size := max(2, min(12, len(period)/8)) // never one: on the starter, turns and half turns differ in speed by themselves
	var n, sx, sy, sxx, sxy, syy float64
	for i := 0; i+size <= len(period); i += size {
		var w, t float64
		for j := i; j < i+size; j++ {
			w += width[j]
			t += period[j]
		}
		if w <= 0 || t <= 0 {
			continue
		}
		x, y := math.Log(t), math.Log(w)
		n, sx, sy, sxx, sxy, syy = n+1, sx+x, sy+y, sxx+x*x, sxy+x*y, syy+y*y
	}
	if n < 4 {
		return math.NaN(), false
	}
	vx := sxx/n - sx*sx/n/n
	if vx < varies*varies {
		return math.NaN(), false
	}
	slope = (sxy/n - sx*sy/n/n) / vx
	rest := math.Max(0, (syy/n-sy*sy/n/n)/vx-slope*slope)
	return slope, math.Sqrt(rest/(n-2)) < growthUnsure
}

func logSpread(v []float64) float64 {
	w := make([]float64, 0, len(v))
	for _, x := range v {
		if x > 0 {
			w = append(w, math.Log(x))
		}
	}
	_, sd := spread(w)
	return sd
}

// same says whether two channels carry the same edges, upright or upside down.
func same(a, b *profile) bool {
	return twins(a.rise, b.rise, a.period) && twins(a.fall, b.fall, a.period) ||
		twins(a.rise, b.fall, a.period) && twins(a.fall, b.rise, a.period)
}

func twins(a, b []float64, period float64) bool {
	if d := len(a) - len(b); d > 2 || d < -2 || len(a) == 0 || len(b) == 0 {
		return false
	}
	near, j := 0, 0
	for _, t := range a {
		for j+1 < len(b) && math.Abs(b[j+1]-t) <= math.Abs(b[j]-t) {
			j++
		}
		if math.Abs(b[j]-t) < 1e-3*period {
			near++
		}
	}
	return float64(near) >= 0.95*float64(len(a))
}

// count says how many of a fall between neighbours of b: the usual number, the share of intervals that hold it, and how many
// intervals there were. Intervals before the first and after the last of a do not count.
func count(a, b []float64, stride int) (usual int, share float64, n int) {
	if len(a) < 2 || len(b) <= stride {
		return 0, 0, 0
	}
	var tally [2*mostVanes + 2]int
	i := 0
	for k := 0; k+stride < len(b); k += stride {
		if b[k] < a[0] {
			continue
		}
		if b[k+stride] > a[len(a)-1] {
			break
		}
		for i < len(a) && a[i] < b[k] {
			i++
		}
		c := 0
		for j := i; j < len(a) && a[j] < b[k+stride]; j++ {
			c++
		}
		tally[min(c, len(tally)-1)]++
		n++
	}
	if n == 0 {
		return 0, 0, 0
	}
	best := 0
	for c, t := range tally {
		if t > tally[best] {
			best = c
		}
	}
	return best, float64(tally[best]) / float64(n), n
}

// follows measures how tightly b follows a in a's own terms: the middle change, from one b to the b stride later, of
// (b − last a)/(interval before that a). Near nothing where b is timed from a; larger where a is metal and b only happens near it. Of many edges, four
// stretches spread over them are looked at.
func follows(a, b []float64, stride int) float64 {
	if len(a) < 3 {
		return math.NaN()
	}
	const stretches, each = 4, 2048
	if len(b) <= stretches*each {
		return median(changes(waits(a, b), stride))
	}
	var all []float64
	for i := range stretches {
		from := i * (len(b) - each) / (stretches - 1)
		all = append(all, changes(waits(a, b[from:from+each]), stride)...)
	}
	return median(all)
}

// scatters is follows without what changes steadily: as speed changes, a delay allowance makes the true instant walk against the edge, and a clamp's pulse is about
// as long as such an allowance, so that its end would seem to follow the edge more tightly than its beginning.
func scatters(a, b []float64, stride int) float64 {
	if len(a) < 3 {
		return math.NaN()
	}
	r := waits(a, b)
	var d []float64
	for i := 2 * stride; i < len(r); i++ {
		d = append(d, math.Abs(r[i]-2*r[i-stride]+r[i-2*stride]))
	}
	return median(d)
}

// waits are how long each b comes after the last a, in terms of the interval before that a.
func waits(a, b []float64) []float64 {
	r := make([]float64, 0, len(b))
	j := 0
	if len(b) > 0 {
		j = max(0, sort.SearchFloat64s(a, b[0])-1)
	}
	for _, t := range b {
		for j+1 < len(a) && a[j+1] <= t {
			j++
		}
		if j >= 1 && a[j] <= t && j+1 < len(a) {
			r = append(r, (t-a[j])/(a[j]-a[j-1]))
		}
	}
	return r
}

// changes are the sizes of the changes from one value to the one stride later.
func changes(r []float64, stride int) []float64 {
	if len(r) <= stride {
		return nil
	}
	for i := range len(r) - stride {
		r[i] = math.Abs(r[i+stride] - r[i])
	}
	return r[:len(r)-stride]
}

// smooth is the share of neighbouring stretches of stride intervals that agree within a third: a shaft has inertia.
func smooth(t []float64, stride int) float64 {
	good, n := 0, 0
	for i := 2 * stride; i < len(t); i++ {
		a, b := t[i-stride]-t[i-2*stride], t[i]-t[i-stride]
		n++
		if a < 1.4*b && b < 1.4*a {
			good++
		}
	}
	if n == 0 {
		return math.NaN()
	}
	return float64(good) / float64(n)
}
