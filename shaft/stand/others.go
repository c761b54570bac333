package stand

import (
	"fmt"
	"math"

	"phasewright/waveform"
)

// other is one class of recordings that hold no engine.
type other struct {
	name string
	make func(r chance) ([]wire, float64) // the wires, and how long they were recorded, s
}

// pulses is a train of spans from a next function, which gives the time to the next pulse and its width.
func pulses(until float64, start float64, next func() (gap, width float64)) []span {
	var s []span
	for t := start; t < until && len(s) < 20000; {
		gap, width := next()
		s = append(s, span{t, t + min(width, 0.98*gap)})
		t += gap
	}
	return s
}

// clock has a frequency of its own that drifts by a share, with jitter by another.
func clock(r chance, until, hz, duty, drift, jitter float64) []span {
	phase := r.between(0, 2*math.Pi)
	t := 0.0
	return pulses(until, r.between(0, 1/hz), func() (float64, float64) {
		gap := (1 + drift*math.Sin(phase+t*2*math.Pi/until)) / hz * (1 + jitter*r.NormFloat64())
		gap = max(gap, 0.2/hz)
		t += gap
		return gap, duty * gap
	})
}

// crossings is where a voltage passes half-way up and down with hysteresis, looked at every dt.
func crossings(until, dt, hysteresis float64, v func(t float64) float64) []span {
	var s []span
	high, on := false, 0.0
	for t := 0.0; t < until; t += dt {
		switch x := v(t); {
		case !high && x > hysteresis:
			high, on = true, t
		case high && x < -hysteresis:
			high = false
			s = append(s, span{on, t})
		}
	}
	return s
}

func plain(r chance, spans ...[]span) []wire {
	var ws []wire
	for _, s := range spans {
		ws = append(ws, newWire(RoleUnknown, r.one(0.6), s))
	}
	return ws
}

// others are the classes of what is no engine. Rates and widths are those of everyday electronics, from memory.
var others = []other{
	{"clocks", func(r chance) ([]wire, float64) {
		end := r.between(3, 8)
		var s [][]span
		for range r.whole(2, 4) {
			drift := r.between(0, 0.1) * float64(r.IntN(2))
			s = append(s, clock(r, end, r.logBetween(3, 600), r.between(0.05, 0.9), drift, r.between(0, 0.003)))
		}
		return plain(r, s...), end
	}},
	{"clocks-named", func(r chance) ([]wire, float64) { // called as an engine's wires are; no whole ratio between them
		end := r.between(3, 8)
		hz := r.between(20, 200)
		ratio := float64(r.whole(2, 8)) + r.between(0.05, 0.95)
		ws := plain(r, clock(r, end, hz, r.between(0.1, 0.6), 0, r.between(0, 0.002)),
			clock(r, end, hz/ratio, r.between(0.05, 0.5), 0, r.between(0, 0.002)))
		ws[0].name, ws[1].name = "crank", "cam"
		if r.one(0.5) {
			ws = append(ws, plain(r, clock(r, end, hz*r.between(0.9, 1.1), r.between(0.05, 0.3), 0, 0.001))...)
			ws[2].name = "coil"
		}
		return ws, end
	}},
	{"mains", func(r chance) ([]wire, float64) {
		end, hz := r.between(2, 5), pick(r, 50.0, 60)
		var s [][]span
		for i := range r.whole(1, 3) {
			third, fifth := r.between(0, 0.4), r.between(0, 0.3)
			shift, wander := float64(i)*2*math.Pi/3*float64(r.IntN(2)), r.between(0, 0.01)
			offset, noise := r.between(-0.3, 0.3), r.between(0, 0.08)
			phase := r.between(0, 6)
			s = append(s, crossings(end, 50e-6, r.between(0.02, 0.1), func(t float64) float64 {
				p := 2*math.Pi*hz*t + shift + wander*math.Sin(t+phase)
				return math.Sin(p) + third*math.Sin(3*p+phase) + fifth*math.Sin(5*p) + offset + noise*r.NormFloat64()
			}))
		}
		return plain(r, s...), end
	}},
	{"pwm", func(r chance) ([]wire, float64) {
		end, hz := r.between(2, 5), r.logBetween(30, 1500)
		var s [][]span
		for range r.whole(1, 3) {
			mid, swing, slow := r.between(0.3, 0.7), r.between(0, 0.29), r.between(0.1, 3)
			t := 0.0
			s = append(s, pulses(end, 0, func() (float64, float64) {
				t += 1 / hz
				return 1 / hz, (mid + swing*math.Sin(slow*t)) / hz
			}))
		}
		return plain(r, s...), end
	}},
	{"serial", func(r chance) ([]wire, float64) {
		end, bit := r.between(0.5, 2), 1/pick(r, 1200.0, 2400, 9600, 19200)
		var s [][]span
		for range r.whole(1, 2) {
			var line []span
			for t := r.between(0, 0.02); t < end; {
				word := r.IntN(256)<<1 | 1<<9
				for i := range 10 {
					if word>>i&1 == 0 { // idle is high: a span is low
						line = append(line, span{t + float64(i)*bit, t + float64(i+1)*bit})
					}
				}
				t += 10 * bit
				if r.one(0.1) {
					t += r.between(0.001, 0.05)
				}
			}
			s = append(s, line)
		}
		ws := plain(r, s...)
		for i := range ws {
			ws[i].high = true
		}
		return ws, end
	}},
	{"telegraph", func(r chance) ([]wire, float64) {
		end := r.between(2, 6)
		var s [][]span
		for range r.whole(1, 4) {
			up, down := r.logBetween(0.5e-3, 50e-3), r.logBetween(0.5e-3, 50e-3)
			s = append(s, pulses(end, 0, func() (float64, float64) {
				on := r.ExpFloat64()*up + 1e-6
				return on + r.ExpFloat64()*down + 1e-6, on
			}))
		}
		return plain(r, s...), end
	}},
	{"encoder", func(r chance) ([]wire, float64) { // two tracks a quarter of a line apart, and an index once a turn
		lines := pick(r, 24, 48, 60, 100, 128, 200, 256)
		n := min(r.between(30, 1500), 60*4000/float64(lines))
		k := []Knot{{0, n}, {1, n * r.between(0.5, 1)}, {2, n * r.between(0.7, 1)}, {3, n * 0.6}}
		m := Course{Start: r.between(0, 360), Knots: k}.Run()
		line := 360 / float64(lines)
		track := func(at, width, period float64) []span {
			var s []span
			for _, t := range m.Turns(at, period) {
				if off := m.TimeAt(m.Angle(t) + width); !math.IsNaN(off) {
					s = append(s, span{t, off})
				}
			}
			return s
		}
		index := track(line/8, line*pick(r, 0.25, 0.5, 1), 360)
		return plain(r, track(0, line/2, line), track(line/4, line/2, line), index), 2.95
	}},
	{"turn-signal", func(r chance) ([]wire, float64) {
		end := r.between(10, 60)
		a := clock(r, end, r.between(1, 2), r.between(0.4, 0.6), 0.02, 0.01)
		var bounce []span
		for _, s := range a {
			for range r.IntN(4) {
				t := s.on + r.between(0.1e-3, 3e-3)
				bounce = append(bounce, span{t, t + r.between(20e-6, 300e-6)})
			}
		}
		return plain(r, a, bounce), end
	}},
	{"music", func(r chance) ([]wire, float64) { // zero crossings of three notes at a time that rise and die away
		end := r.between(2, 4)
		var s [][]span
		for range r.whole(1, 2) {
			note := [3]float64{}
			length := r.between(0.15, 0.5)
			beat := -1
			s = append(s, crossings(end, 25e-6, 0.15, func(t float64) float64 {
				if b := int(t / length); b != beat {
					beat = b
					for i := range note {
						note[i] = 110 * math.Pow(2, float64(r.whole(0, 24))/12)
					}
				}
				v := 0.0
				for _, f := range note {
					v += math.Sin(2 * math.Pi * f * t)
				}
				return v / 3 * math.Exp(-3*math.Mod(t, length)/length)
			}))
		}
		return plain(r, s...), end
	}},
	{"fan", func(r chance) ([]wire, float64) { // two pulses a turn, and the wire that sets the speed
		end := r.between(3, 6)
		n := r.between(800, 4000)
		tacho := clock(r, end, n/60*2, 0.5, r.between(0, 0.2), 0.002)
		set := clock(r, end, r.logBetween(90, 1000), r.between(0.2, 0.9), 0, 0)
		if r.one(0.4) {
			return plain(r, tacho), end
		}
		return plain(r, tacho, set), end
	}},
	{"bus", func(r chance) ([]wire, float64) { // bursts of a clock with data beside it and a select wire around them
		end, bit := r.between(1, 3), r.logBetween(20e-6, 300e-6)
		every := r.between(0.02, 0.1)
		var clk, data, sel []span
		for t := 0.01; t < end; t += every * (1 + 0.001*r.NormFloat64()) {
			n := 8 * r.whole(1, 4)
			sel = append(sel, span{t, t + float64(n+2)*bit})
			for i := range n {
				at := t + float64(i+1)*bit
				clk = append(clk, span{at, at + bit/2})
				if r.one(0.5) {
					data = append(data, span{at - bit/4, at + bit*0.75})
				}
			}
		}
		return plain(r, clk, data, sel), end
	}},
	{"servo", func(r chance) ([]wire, float64) { // 1 to 2 ms every 20 ms, as many wires as joints
		end := r.between(2, 5)
		every := r.between(14e-3, 22e-3)
		var s [][]span
		for i := range r.whole(1, 4) {
			slow, t := r.between(0.2, 4), 0.0
			s = append(s, pulses(end, float64(i)*2e-3, func() (float64, float64) {
				t += every
				return every, (1.5 + 0.45*math.Sin(slow*t)) * 1e-3
			}))
		}
		return plain(r, s...), end
	}},
	{"stepper", func(r chance) ([]wire, float64) { // four windings by turns, faster and slower
		end := r.between(2, 4)
		var s [4][]span
		step, t := 0, 0.0
		for t < end {
			gap := 1 / (150 + 120*math.Sin(t*2))
			s[step%4] = append(s[step%4], span{t, t + 2*gap})
			t += gap
			step++
		}
		return plain(r, s[0], s[1], s[2], s[3]), end
	}},
	// things that pass two light gates on a belt, and a bell now and then
	{"counter", func(r chance) ([]wire, float64) {
		end := r.between(5, 15)
		var a, b, bell []span
		for t := 0.1; t < end; t += r.ExpFloat64()*0.15 + 0.03 {
			w := r.between(5e-3, 25e-3)
			a = append(a, span{t, t + w})
			b = append(b, span{t + 0.2, t + 0.2 + w})
			if r.one(0.1) {
				bell = append(bell, span{t + 0.3, t + 0.35})
			}
		}
		return plain(r, a, b, bell), end
	}},
	{"heart", func(r chance) ([]wire, float64) { // a pulse meter and its lamp
		end := r.between(15, 40)
		var beat, lamp []span
		for t := 0.2; t < end; t += r.between(0.7, 0.95) {
			beat = append(beat, span{t, t + r.between(0.08, 0.12)})
		}
		lamp = clock(r, end, r.between(60, 120), 0.2, 0, 0)
		return plain(r, beat, lamp), end
	}},
}

// Others names the classes that hold no engine.
func Others() []string {
	var names []string
	for _, o := range others {
		names = append(names, o.name)
	}
	return names
}

func (o other) record(r chance) *Case {
	ws, end := o.make(r)
	style := r.IntN(4)
	for i := range ws {
		switch {
		case ws[i].name != "":
		case style == 0:
			ws[i].name = fmt.Sprintf("CH%d", i+1)
		case style == 1: // names from the last job
			ws[i].name = []string{"crank", "cam", "coil", "tdc"}[i%4]
		default:
			ws[i].name = fmt.Sprintf("D%d", i)
		}
		ws[i].cut(0, end)
		ws[i].sampled(pick(r, 0, 1e-7, 1e-6))
	}
	chans, es := edges(ws, 0)
	c := &Case{Edges: es, End: waveform.Second(end)}
	c.Info = waveform.Info{Format: waveform.FormatVCD, Channels: chans, Size: -1}
	for range ws {
		c.Truth.Roles = append(c.Truth.Roles, RoleUnknown)
	}
	return c
}

// Recorded is a recording by others that anybody may pass on. None is of an engine.
type Recorded struct{ File, Source string }

// Captures are those that lie beside room waveform, with where they come from; more in SOURCES.md there.
func Captures() []Recorded {
	const from = "sigrok-dumps, commit 0ad13477, "
	return []Recorded{
		{"digit_ids_1ns_crlf.vcd", from + "serial bus, flash memory read, 2014"},
		{"digit_ids_10ns_crlf.vcd", from + "serial bus, flash memory read, 2014"},
		{"real_and_wire.vcd", from + "value change dumps, 2020"},
		{"vectors_integers_aliases.vcd", from + "value change dumps, 2019"},
		{"semicolon_unit_suffix_times.csv", from + "serial bus, flash memory read"},
		{"scope_2ch_units_row_eng.csv", from + "square wave"},
		{"scope_1ch_units_row_a.csv", from + "square wave"},
		{"scope_1ch_units_row_b.csv", from + "square wave"},
		{"square_unipolar_8bit.wav", from + "basic analog: 1 kHz at 32 kHz"},
	}
}
