package stand

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode/utf16"

	"phasewright/waveform"
)

// dialect is one way to write a recording as a file, by a writer of its own.
type dialect struct {
	name  string
	write func(r chance, c *Case) []byte
}

// dialects are the ways in which scopes, logic recorders and sound cards write, from memory and by the open
// formats: CSV (RFC 4180 and its relatives), VCD (IEEE 1364-2005 clause 18), RIFF/WAVE.
var dialects = []dialect{
	{"csv-comma", tableAt(40e3, style{separator: ",", point: ".", places: 3})},
	{"csv-semicolon", tableAt(25e3, style{separator: ";", point: ",", places: 3, crlf: true})},
	{"csv-tab", tableAt(25e3, style{separator: "\t", point: ".", places: 4})},
	{"csv-quoted", tableAt(25e3, style{separator: ",", point: ".", places: 2, quoted: true})},
	{"csv-exponent", tableAt(40e3, style{separator: ",", point: ".", places: 5, exponent: true})},
	{"csv-units", tableAt(25e3, style{separator: ",", point: ".", places: 3, units: true, ms: true})},
	{"csv-utf16", func(r chance, c *Case) []byte {
		text := table(c, analog(r, c, 20e3), style{separator: ";", point: ",", places: 3, crlf: true})
		out := []byte{0xff, 0xfe}
		for _, u := range utf16.Encode([]rune(string(text))) {
			out = binary.LittleEndian.AppendUint16(out, u)
		}
		return out
	}},
	{"csv-changes", changesTable},
	{"vcd-scalars", func(_ chance, c *Case) []byte { return vcd(c, "1 us", 1e-6, nil, false) }},
	{"vcd-scopes", func(_ chance, c *Case) []byte {
		return vcd(c, "100 ns", 1e-7, []string{"bench", "engine"}, false)
	}},
	{"vcd-vector", func(_ chance, c *Case) []byte {
		c.Truth.Roles = append(c.Truth.Roles, RoleUnknown)
		return vcd(c, "10ns", 1e-8, []string{"top"}, true)
	}},
	{"vcd-reals", vcdReals},
	{"wav-16", wavAt(48000, 16, false)},
	{"wav-24", wavAt(96000, 24, false)},
	{"wav-float", wavAt(48000, 32, true)},
	{"wav-coupled", func(r chance, c *Case) []byte {
		return wav(analog(r, c, 96e3), 96000, 16, false, r.between(10e-3, 60e-3))
	}},
	{"csv-cut", func(r chance, c *Case) []byte {
		return cutOff(r, table(c, analog(r, c, 25e3), style{separator: ",", point: ".", places: 3}))
	}},
	{"vcd-cut", func(r chance, c *Case) []byte { return cutOff(r, vcd(c, "1 us", 1e-6, nil, false)) }},
	{"wav-cut", func(r chance, c *Case) []byte { return cutOff(r, wav(analog(r, c, 48e3), 48000, 16, false, 0)) }},
	{reluctorTable, func(r chance, c *Case) []byte {
		return table(c, c.swings(r, analog(r, c, 50e3)), style{separator: ",", point: ".", places: 3})
	}},
	{reluctorSound, func(r chance, c *Case) []byte {
		return wav(c.swings(r, analog(r, c, 96e3)), 96000, 24, false, 0)
	}},
}

// tableAt writes a sampled table with so many samples a second.
func tableAt(rate float64, y style) func(r chance, c *Case) []byte {
	return func(r chance, c *Case) []byte { return table(c, analog(r, c, rate), y) }
}

// wavAt writes a WAVE file with so many samples a second, of so many bits.
func wavAt(rate, bits int, float bool) func(r chance, c *Case) []byte {
	return func(r chance, c *Case) []byte { return wav(analog(r, c, float64(rate)), rate, bits, float, 0) }
}

// The dialects in which the crank pickup's own voltage was recorded, not a logic state.
const reluctorTable, reluctorSound = "csv-reluctor", "wav-reluctor"

// cutOff is what is left of a file whose end was lost.
func cutOff(r chance, file []byte) []byte {
	return file[:int(r.between(0.7, 0.97)*float64(len(file)))]
}

// swings puts the voltage of the reluctance pickup in the place of the crank channel: one swing up and down a
// vane, growing with speed, to 4 V at 2000 rpm, and 10 mV of noise.
func (c *Case) swings(r chance, s samples) samples {
	const volts = 4 / (2000 / reluctorWakes) // of the greatest swing, a level of the input
	ch := slices.Index(c.Truth.Roles, RoleCrank)
	v := s.of[ch]
	for i := range v {
		v[i] = c.voltage(s.from+float64(i)*s.dt)*volts + 0.01*r.NormFloat64()
	}
	return s
}

// Dialects names the file dialects.
func Dialects() []string {
	var names []string
	for _, d := range dialects {
		names = append(names, d.name)
	}
	return names
}

// MakeFile makes the case of a seed as a file in a dialect: a short sweep with four wires.
func MakeFile(name string, seed uint64) (*Case, error) {
	for _, d := range dialects {
		if d.name != name {
			continue
		}
		r := draw("file "+name, seed)
		g := sound(r, 3, 4, 6, 8)
		if name == reluctorTable || name == reluctorSound {
			g = reluctorOf(r)
		}
		a, b := r.between(800, 1200), r.between(2500, 3800)
		up := 0.8 + (b-a)/1800
		g.course = Course{Start: r.between(0, 720), Knots: []Knot{{0, a}, {0.8, a}, {up, b}, {up + 0.4, b}}}
		g.ripples(g.usualRipple(r), g.idle)
		g.markWidth = r.between(6, 20) // a sound card must see it at speed
		g.tick = 0
		text, card, err := g.card(r)
		if err != nil {
			return nil, err
		}
		c := g.record(r)
		c.CardText, c.Card = text, card
		c.Class, c.Seed, c.Name = name, seed, fmt.Sprintf("%s/%d", name, seed)
		c.Format = name
		if g.reluctor {
			c.voltage = g.voltage()
		}
		c.File = d.write(draw(name, seed), c)
		return c, nil
	}
	return nil, fmt.Errorf("there is no dialect %q", name)
}

// samples are voltages looked at with a steady rate.
type samples struct {
	from, dt float64
	of       [][]float64 // by channel
}

// analog is what a scope with so many samples a second makes of the edges: levels of its own for each wire, straight
// flanks of 1.6 samples with the edge half-way up, and some noise.
func analog(r chance, c *Case, rate float64) samples {
	s := samples{from: float64(c.Info.Start), dt: 1 / rate}
	n := int((float64(c.End) - s.from) * rate)
	for ch := range c.Info.Channels {
		low, high, noise := r.between(0, 0.4), r.between(4.4, 5.1), r.between(0.004, 0.03)
		v := make([]float64, n)
		level, from := 0.0, 0
		ramp := 1.6 * s.dt
		for _, e := range c.Edges {
			if int(e.Channel) != ch {
				continue
			}
			next := 0.0
			if e.Kind == waveform.Rise || e.Kind == waveform.FoundHigh {
				next = 1
			}
			if e.Kind == waveform.FoundHigh || e.Kind == waveform.FoundLow {
				level = next
				continue
			}
			at := (float64(e.At) - s.from) / s.dt
			i := min(max(int(math.Ceil(at-ramp/s.dt/2)), from), n)
			for ; from < i; from++ {
				v[from] = level
			}
			for ; from < n && float64(from) < at+ramp/s.dt/2; from++ {
				f := (float64(from)-at)/(ramp/s.dt) + 0.5
				v[from] = level + (next-level)*min(max(f, 0), 1)
			}
			level = next
		}
		for ; from < n; from++ {
			v[from] = level
		}
		for i := range v {
			v[i] = low + v[i]*(high-low) + noise*r.NormFloat64()
		}
		s.of = append(s.of, v)
	}
	return s
}

// style is how a table is written.
type style struct {
	separator, point string
	places           int
	quoted, exponent bool
	units, crlf, ms  bool
}

func table(c *Case, s samples, y style) []byte {
	var b bytes.Buffer
	end := "\n"
	if y.crlf {
		end = "\r\n"
	}
	cell := func(text string) {
		if y.quoted {
			b.WriteString(`"` + text + `"`)
			return
		}
		b.WriteString(text)
	}
	number := func(v float64, places int) {
		text := strconv.FormatFloat(v, 'f', places, 64)
		if y.exponent {
			text = strconv.FormatFloat(v, 'E', places, 64)
		}
		if y.point != "." {
			text = strings.Replace(text, ".", y.point, 1)
		}
		cell(text)
	}
	cell("time")
	for _, ch := range c.Info.Channels {
		b.WriteString(y.separator)
		cell(ch.Name)
	}
	b.WriteString(end)
	scale := 1.0
	if y.units {
		unit := "(s)"
		if y.ms {
			unit, scale = "(ms)", 1e3
		}
		b.WriteString(unit)
		for range c.Info.Channels {
			b.WriteString(y.separator + "(V)")
		}
		b.WriteString(end)
	}
	for i := range s.of[0] {
		number((s.from+float64(i)*s.dt)*scale, 7)
		for _, v := range s.of {
			b.WriteString(y.separator)
			number(v[i], y.places)
		}
		b.WriteString(end)
	}
	return b.Bytes()
}

// changesTable has a row for each change, with the state of every wire.
func changesTable(_ chance, c *Case) []byte {
	var b bytes.Buffer
	b.WriteString("Time [s]")
	for _, ch := range c.Info.Channels {
		b.WriteString("," + ch.Name)
	}
	b.WriteByte('\n')
	state := make([]byte, len(c.Info.Channels))
	for i, e := range c.Edges {
		state[e.Channel] = '0'
		if e.Kind == waveform.Rise || e.Kind == waveform.FoundHigh {
			state[e.Channel] = '1'
		}
		if i+1 < len(c.Edges) && c.Edges[i+1].At == e.At {
			continue
		}
		fmt.Fprintf(&b, "%.9f", float64(e.At))
		for _, s := range state {
			b.WriteByte(',')
			b.WriteByte(s)
		}
		b.WriteByte('\n')
	}
	return b.Bytes()
}

// vcd writes a value change dump; a vector counts beside the wires where asked.
func vcd(c *Case, scale string, tick float64, scopes []string, vector bool) []byte {
	var b bytes.Buffer
	fmt.Fprintf(&b, "$comment invented $end\n$timescale %s $end\n", scale)
	for _, s := range scopes {
		fmt.Fprintf(&b, "$scope module %s $end\n", s)
	}
	for i, ch := range c.Info.Channels {
		fmt.Fprintf(&b, "$var wire 1 %c %s $end\n", '!'+i, strings.ReplaceAll(ch.Name, " ", "_"))
	}
	if vector {
		b.WriteString("$var reg 8 ~ count [7:0] $end\n")
	}
	for range scopes {
		b.WriteString("$upscope $end\n")
	}
	b.WriteString("$enddefinitions $end\n")
	last, count := int64(-1), 0
	for _, e := range c.Edges {
		at := int64(math.Round((float64(e.At) - float64(c.Info.Start)) / tick))
		if at != last {
			fmt.Fprintf(&b, "#%d\n", at)
			last = at
			if vector && count%10 == 0 {
				fmt.Fprintf(&b, "b%b ~\n", count/10%256)
			}
			count++
		}
		bit := '0'
		if e.Kind == waveform.Rise || e.Kind == waveform.FoundHigh {
			bit = '1'
		}
		fmt.Fprintf(&b, "%c%c\n", bit, '!'+int(e.Channel))
	}
	fmt.Fprintf(&b, "#%d\n", int64((float64(c.End)-float64(c.Info.Start))/tick))
	return b.Bytes()
}

// vcdReals writes each wire as a voltage that is noted as it changes: two values a flank, 1 µs apart.
func vcdReals(r chance, c *Case) []byte {
	var b bytes.Buffer
	b.WriteString("$timescale 100 ns $end\n$scope module scope $end\n")
	for i, ch := range c.Info.Channels {
		fmt.Fprintf(&b, "$var real 64 %c %s $end\n", '!'+i, strings.ReplaceAll(ch.Name, " ", "_"))
	}
	b.WriteString("$upscope $end\n$enddefinitions $end\n")
	low, high := r.between(0, 0.5), r.between(4.5, 5)
	type change struct {
		at int64
		ch int32
		v  float64
	}
	var all []change
	for _, e := range c.Edges {
		at := int64(math.Round((float64(e.At) - float64(c.Info.Start)) * 1e7))
		v := low
		if e.Kind == waveform.Rise || e.Kind == waveform.FoundHigh {
			v = high
		}
		all = append(all, change{at, e.Channel, v + r.between(-0.02, 0.02)})
	}
	slices.SortStableFunc(all, func(a, b change) int { return int(a.at - b.at) })
	last := int64(-1)
	for _, k := range all {
		if k.at != last {
			fmt.Fprintf(&b, "#%d\n", k.at)
			last = k.at
		}
		fmt.Fprintf(&b, "r%.4f %c\n", k.v, '!'+int(k.ch))
	}
	fmt.Fprintf(&b, "#%d\n", int64((float64(c.End)-float64(c.Info.Start))*1e7))
	return b.Bytes()
}

// wav writes RIFF/WAVE, half of full scale for 5 V; coupled is the time constant of a high-pass in front of it,
// s; 0: none.
func wav(s samples, rate, bits int, float bool, coupled float64) []byte {
	n, chans := len(s.of[0]), len(s.of)
	for _, v := range s.of {
		keep := 1.0
		if coupled > 0 {
			keep = math.Exp(-s.dt / coupled)
		}
		y, was := 0.0, v[0]
		for i, x := range v {
			if coupled > 0 {
				y = keep * (y + x - was)
				was = x
				v[i] = y / 10
			} else {
				v[i] = (x - 2.5) / 5
			}
		}
	}
	size := bits / 8
	data := make([]byte, 0, n*chans*size)
	for i := range n {
		for _, v := range s.of {
			x := min(max(v[i], -1), 1)
			switch {
			case float:
				data = binary.LittleEndian.AppendUint32(data, math.Float32bits(float32(x)))
			case bits == 16:
				data = binary.LittleEndian.AppendUint16(data, uint16(int16(math.Round(x*32767))))
			default:
				k := int32(math.Round(x * 8388607))
				data = append(data, byte(k), byte(k>>8), byte(k>>16))
			}
		}
	}
	var b bytes.Buffer
	put := func(v any) { _ = binary.Write(&b, binary.LittleEndian, v) } // a bytes.Buffer takes everything
	b.WriteString("RIFF")
	put(uint32(36 + len(data)))
	b.WriteString("WAVEfmt ")
	put(uint32(16))
	format := uint16(1)
	if float {
		format = 3
	}
	put(format)
	put(uint16(chans))
	put(uint32(rate))
	put(uint32(rate * chans * size))
	put(uint16(chans * size))
	put(uint16(bits))
	b.WriteString("data")
	put(uint32(len(data)))
	b.Write(data)
	return b.Bytes()
}
