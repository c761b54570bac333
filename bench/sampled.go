package bench

import (
	"fmt"
	"math"

	"phasewright/quantity"
)

// Probe says what the spark channel of a recording is clipped to.
type Probe string

// The spark probes.
const (
	// logic level that switches the coil: high while it charges, falling at the command to spark
	OnDriver Probe = "driver"
	OnWire1  Probe = "wire" // inductive clamp on wire 1: a short pulse that starts at the spark
	// current clamp on the coil's supply: climbs while it charges, less far on the starter, whose draw lowers the
	// supply
	OnSupply Probe = "current"
)

// Sampling says how the signals are recorded. The zero value is 100,000 samples a second with the spark probe on the
// driver.
type Sampling struct {
	Rate  float64 // samples a second; in a CSV the spacing must be whole nanoseconds
	Spark Probe
	// Hz below which the recorder's input passes ever less, as a sound card's (about 20), by a first-order high-pass;
	// 0: it passes direct voltage
	Corner float64
}

// channels of a recording, in order.
const (
	onCrank = iota
	onCam
	onSpark
	onMark
	channels
)

var channelNames = [channels]string{"crank", "cam", "spark", "mark"}

const (
	markWidth  = 4.0  // crank degrees that the mark's pulse lasts; its start stands at TDC
	clampWidth = 120  // µs of a clamp's pulse
	perAmpere  = 0.25 // V/A of the current probe
)

func (s Sampling) check() (Sampling, error) {
	if s.Rate == 0 {
		s.Rate = 100e3
	}
	if s.Spark == "" {
		s.Spark = OnDriver
	}
	if !(s.Rate >= 1000 && s.Rate <= 20e6) {
		return s, quantity.Bad("sample rate", "give 1,000 to 20,000,000 a second, such as 100000",
			"%g samples a second", s.Rate)
	}
	if !(s.Corner >= 0 && s.Corner <= s.Rate/20) {
		return s, quantity.Bad("lower limit", "give 0 Hz, or what a sound card has, such as 20",
			"%g Hz at %g samples a second", s.Corner, s.Rate)
	}
	switch s.Spark {
	case OnDriver, OnWire1, OnSupply:
	default:
		return s, quantity.Bad("spark probe", "give driver, wire or current", "%q", string(s.Spark))
	}
	return s, nil
}

// step is the time between samples in µs, and samples how many a run gives.
func (s Sampling) step() float64 { return 1e6 / s.Rate }

func (s Sampling) samples(r *Rig) int64 { return int64(math.Floor(r.end / s.step())) }

// turnover is a change of a channel's level at a time in µs.
type turnover struct{ time, level float64 }

// pulse is the swing of a variable-reluctance pickup about its zero crossing: when that is, µs, and the crank's rate
// then, °/µs.
type pulse struct{ time, rate float64 }

// trace is one channel on its way to samples.
type trace struct {
	level      float64
	due        []turnover // in order of time
	pulses     []pulse
	rise       float64 // µs, whole transition
	noise      float64
	reluctor   bool
	gain, wide float64
	sign       float64
}

// sampler turns a rig's events into samples, block by block.
type sampler struct {
	rig      *Rig
	traces   [channels]trace
	step     float64 // µs
	ahead    float64 // µs that the events run before the samples
	ran      float64
	probe    Probe
	charging float64 // begin of the charge, NaN: none
	supply   float64 // V, then
	t        int64   // samples given
	// share of its level that the input's high-pass keeps from one sample to the next; 1: it passes direct voltage
	keeps  float64
	before [channels]struct{ in, out float64 }
}

func newSampler(r *Rig, c Config, s Sampling) *sampler {
	m := &sampler{rig: r, step: s.step(), ahead: 2000, probe: s.Spark, charging: math.NaN(),
		keeps: 1 / (1 + 2*math.Pi*s.Corner/s.Rate)}
	for i, p := range []Pickup{c.Crank, c.Cam} {
		tr := &m.traces[i]
		tr.rise, tr.noise = float64(p.Rise)/0.8, float64(p.Noise)
		w := &r.crank
		if i == 1 {
			w = &r.cam
		}
		if w.reluctor {
			tr.reluctor, tr.gain, tr.wide, tr.sign = true, w.gain, w.spread, 1
			if w.reversed {
				tr.sign = -1
			}
			m.ahead = 40e3
			continue
		}
		tr.level = volts(p, w.level)
		if w.dead || i == 1 && !r.s.sync {
			tr.level = 0
		}
	}
	m.traces[onSpark].noise, m.traces[onSpark].rise = 0.02, 1
	m.traces[onMark].noise, m.traces[onMark].rise = 0.02, 1
	if m.probe == OnDriver {
		m.traces[onSpark].rise = 0.5
	}
	r.pulse = func(input EventKind, time, rate float64) {
		m.traces[input].pulses = append(m.traces[input].pulses, pulse{time, rate})
	}
	return m
}

func volts(p Pickup, high bool) float64 {
	if high {
		return float64(p.High)
	}
	return float64(p.Low)
}

// run carries the events on to time and keeps what they do to the channels.
func (m *sampler) run(c *Config, time float64) {
	time = min(time, m.rig.end)
	if time <= m.ran {
		return
	}
	m.ran = time
	m.rig.advance(time, func(e *Event) bool {
		t := float64(e.Time)
		switch e.Kind {
		case CrankEdge:
			m.edge(onCrank, c.Crank, e)
		case CamEdge:
			m.edge(onCam, c.Cam, e)
		case Mark:
			m.add(onMark, t, 5)
			m.add(onMark, t+markWidth/m.rig.rate, 0)
		case Charge:
			if m.probe == OnDriver {
				m.add(onSpark, t, 5)
			} else if m.probe == OnSupply {
				m.add(onSpark, t, math.Inf(1)) // a ramp begins
			}
		case Cut:
			if m.probe != OnWire1 {
				m.add(onSpark, t, 0)
			}
		case Spark:
			if m.probe == OnWire1 && e.Cylinder == 1 {
				m.add(onSpark, t, 4)
				m.add(onSpark, t+clampWidth, 0)
			}
		}
		return true
	})
}

func (m *sampler) edge(ch int, p Pickup, e *Event) {
	if !m.traces[ch].reluctor {
		m.add(ch, float64(e.Time), volts(p, e.High))
	}
}

func (m *sampler) add(ch int, t, level float64) {
	d := m.traces[ch].due
	i := len(d)
	d = append(d, turnover{})
	for i > 0 && d[i-1].time > t {
		d[i] = d[i-1]
		i--
	}
	d[i] = turnover{t, level}
	m.traces[ch].due = d
}

// block fills rows of samples in volts, one slice a channel, all of the same length.
func (m *sampler) block(c *Config, out *[channels][]float64) {
	n := len(out[0])
	from := float64(m.t) * m.step
	m.run(c, from+float64(n)*m.step+m.ahead)
	for ch := range m.traces {
		tr := &m.traces[ch]
		if tr.reluctor {
			m.swings(tr, from, out[ch])
		} else {
			m.levels(tr, from, out[ch], ch == onSpark)
		}
		if tr.noise > 0 {
			for i := range out[ch] {
				out[ch][i] += tr.noise * m.rig.grain.NormFloat64()
			}
		}
		if m.keeps < 1 {
			m.couple(ch, out[ch])
		}
	}
	m.t += int64(n)
}

// couple passes a channel through the input's first-order high-pass, which takes its direct voltage out. Before the
// recording it stood at its first level for ever.
func (m *sampler) couple(ch int, v []float64) {
	b := &m.before[ch]
	if m.t == 0 {
		b.in = v[0]
	}
	for i, x := range v {
		b.out = m.keeps * (b.out + x - b.in)
		b.in = x
		v[i] = b.out
	}
}

// levels draws a channel of two levels: straight transitions whose middle is the edge.
func (m *sampler) levels(tr *trace, from float64, out []float64, spark bool) {
	i, n := 0, len(out)
	used := 0
	for _, d := range tr.due {
		first := (d.time - tr.rise/2 - from) / m.step // sample at which the transition begins
		if first >= float64(n) {
			break
		}
		k := max(int(math.Ceil(first)), 0)
		for ; i < k && i < n; i++ {
			out[i] = m.rest(tr, from+float64(i)*m.step)
		}
		was := m.rest(tr, d.time)
		if math.IsInf(d.level, 1) {
			m.charging, m.supply, tr.level = d.time, m.rig.supplyAt(d.time), 0
			used++
			continue
		}
		if spark {
			m.charging = math.NaN()
		}
		ends := d.time + tr.rise/2
		for ; i < n; i++ {
			t := from + float64(i)*m.step
			if t >= ends {
				break
			}
			share := 0.5 + (t-d.time)/tr.rise
			out[i] = was + (d.level-was)*min(max(share, 0), 1)
		}
		if i == n && from+float64(n)*m.step < ends { // goes on in the next block: keep it
			if spark && m.probe == OnSupply {
				tr.level = was
			}
			break
		}
		tr.level = d.level
		used++
	}
	for ; i < n; i++ {
		out[i] = m.rest(tr, from+float64(i)*m.step)
	}
	tr.due = append(tr.due[:0], tr.due[used:]...)
}

// rest is the level between edges; while a coil charges the current probe climbs.
func (m *sampler) rest(tr *trace, t float64) float64 {
	if tr != &m.traces[onSpark] || math.IsNaN(m.charging) {
		return tr.level
	}
	return perAmpere * float64(m.rig.s.current(t-m.charging, m.supply))
}

// swings draws variable-reluctance pulses: A·(−x)·e^(½(1−x²)), wired right positive first.
func (m *sampler) swings(tr *trace, from float64, out []float64) {
	for i := range out {
		out[i] = 0
	}
	end := from + float64(len(out))*m.step
	keep := tr.pulses[:0]
	const far = 5 // pulse spreads beyond which nothing is left
	for _, p := range tr.pulses {
		width := tr.wide / p.rate // µs
		if p.time+far*width > end {
			keep = append(keep, p)
		}
		a := max(int((p.time-far*width-from)/m.step), 0)
		b := min(int((p.time+far*width-from)/m.step)+1, len(out))
		for i := a; i < b; i++ {
			x := (from + float64(i)*m.step - p.time) / width
			out[i] -= tr.sign * tr.gain * p.rate * x * math.Exp(0.5*(1-x*x))
		}
	}
	tr.pulses = keep
}

// Samples runs the rig and gives its signals block by block: volts of crank, cam, spark and mark, each block at most
// 4,096 samples of each, reused.
func (r *Rig) Samples(c Config, s Sampling, see func(from quantity.Time, block [4][]float64) error) error {
	s, err := s.check()
	if err != nil {
		return err
	}
	m := newSampler(r, c, s)
	total := s.samples(r)
	const size = 4096
	var room [channels][size]float64
	for m.t < total {
		n := min(size, total-m.t)
		var block [channels][]float64
		for ch := range block {
			block[ch] = room[ch][:n]
		}
		from := quantity.Time(float64(m.t) * m.step)
		m.block(&c, &block)
		if err := see(from, block); err != nil {
			return fmt.Errorf("recording: %w", err)
		}
	}
	return nil
}
