package bench

import (
	"bufio"
	"encoding/binary"
	"fmt"
	"io"
	"math"
	"sort"

	"phasewright/quantity"
)

// WriteCSV writes the run as a sampled recording: a header row and one row a sample, time in seconds and four channels
// in volts.
func WriteCSV(w io.Writer, r *Rig, c Config, s Sampling) error {
	s, err := s.check()
	if err != nil {
		return err
	}
	ns := int64(math.Round(1e9 / s.Rate))
	if math.Abs(float64(ns)*s.Rate-1e9) > 1e-3 {
		return quantity.Bad("sample rate", "give one with whole nanoseconds between samples, such as "+
			"100000, or write a WAVE file", "%g samples a second", s.Rate)
	}
	if _, err := io.WriteString(w, "time (s),crank (V),cam (V),spark (V),mark (V)\n"); err != nil {
		return err
	}
	digits := 9
	for step := ns; step%10 == 0 && digits > 0; step /= 10 {
		digits--
	}
	scale := int64(math.Pow10(9 - digits))
	var text []byte
	return r.Samples(c, s, func(from quantity.Time, block [4][]float64) error {
		text = text[:0]
		t := int64(math.Round(float64(from)*1e3)) / scale
		for i := range block[0] {
			text = fixed(text, t, digits)
			for ch := range block {
				text = append(text, ',')
				text = fixed(text, int64(math.RoundToEven(block[ch][i]*1e3)), 3)
			}
			text = append(text, '\n')
			t += ns / scale
		}
		_, err := w.Write(text)
		return err
	})
}

// fixed appends v·10^−digits in plain decimals.
func fixed(b []byte, v int64, digits int) []byte {
	if v < 0 {
		b = append(b, '-')
		v = -v
	}
	var d [24]byte
	i := len(d)
	for n := 0; v > 0 || n <= digits; n++ {
		if n == digits && digits > 0 {
			i--
			d[i] = '.'
		}
		i--
		d[i] = byte('0' + v%10)
		v /= 10
	}
	return append(b, d[i:]...)
}

// FullScale is the voltage of the largest sample in a WAVE recording.
const FullScale quantity.Voltage = 10

// WriteWAV writes the run as a 16-bit PCM WAVE file of four channels: crank, cam, spark, mark; ±10 V is full scale,
// what lies beyond is clipped.
func WriteWAV(w io.Writer, r *Rig, c Config, s Sampling) error {
	s, err := s.check()
	if err != nil {
		return err
	}
	total := s.samples(r)
	size := total * channels * 2
	if size > math.MaxUint32-64 {
		return quantity.Bad("recording", "record less, or sample more slowly", "%d MiB do not fit into a WAVE file",
			size>>20)
	}
	head := []byte("RIFF\x00\x00\x00\x00WAVEfmt \x10\x00\x00\x00\x01\x00")
	binary.LittleEndian.PutUint32(head[4:], uint32(36+size))
	head = binary.LittleEndian.AppendUint16(head, channels)
	head = binary.LittleEndian.AppendUint32(head, uint32(s.Rate))
	head = binary.LittleEndian.AppendUint32(head, uint32(s.Rate)*channels*2)
	head = binary.LittleEndian.AppendUint16(head, channels*2)
	head = binary.LittleEndian.AppendUint16(head, 16)
	head = append(head, "data"...)
	head = binary.LittleEndian.AppendUint32(head, uint32(size))
	if _, err := w.Write(head); err != nil {
		return err
	}
	if s.Rate != math.Trunc(s.Rate) {
		return quantity.Bad("sample rate", "give whole samples a second for a WAVE file", "%g", s.Rate)
	}
	data := make([]byte, 0, 4096*channels*2)
	return r.Samples(c, s, func(_ quantity.Time, block [4][]float64) error {
		data = data[:0]
		for i := range block[0] {
			for ch := range block {
				v := math.RoundToEven(block[ch][i] * (32767 / float64(FullScale)))
				data = binary.LittleEndian.AppendUint16(data, uint16(int16(min(max(v, -32768), 32767))))
			}
		}
		_, err := w.Write(data)
		return err
	})
}

// WriteVCD writes the run as logic changes (value change dump, IEEE 1364): crank, cam, spark (the driver, high while
// charging) and mark, in nanoseconds. A variable-reluctance pickup appears as its comparator shows it.
func WriteVCD(w io.Writer, r *Rig) error {
	b := bufio.NewWriterSize(w, 1<<16)
	b.WriteString("$timescale 1 ns $end\n$scope module engine $end\n")
	state := [channels]bool{r.crank.level, r.cam.level}
	for i, name := range channelNames {
		fmt.Fprintf(b, "$var wire 1 %c %s $end\n", '!'+i, name)
	}
	b.WriteString("$upscope $end\n$enddefinitions $end\n#0\n$dumpvars\n")
	for i, v := range state {
		fmt.Fprintf(b, "%d%c\n", bit(v), '!'+i)
	}
	b.WriteString("$end\n")
	var marks []float64 // ends of mark pulses
	last := int64(0)
	text := make([]byte, 0, 32)
	put := func(t float64, ch int, high bool) {
		if state[ch] == high {
			return
		}
		state[ch] = high
		text = text[:0]
		if ns := int64(math.Round(t * 1e3)); ns > last {
			last = ns
			text = append(fixed(append(text, '#'), ns, 0), '\n')
		}
		b.Write(append(text, byte('0'+bit(high)), byte('!'+ch), '\n'))
	}
	due := func(t float64) {
		for len(marks) > 0 && marks[0] <= t {
			put(marks[0], onMark, false)
			marks = marks[1:]
		}
	}
	r.Run(func(e *Event) bool {
		t := float64(e.Time)
		due(t)
		switch e.Kind {
		case CrankEdge:
			put(t, onCrank, e.High)
		case CamEdge:
			put(t, onCam, e.High)
		case Charge:
			put(t, onSpark, true)
		case Cut:
			put(t, onSpark, false)
		case Mark:
			put(t, onMark, true)
			marks = append(marks, t+markWidth/r.rate)
			sort.Float64s(marks)
		}
		return true
	})
	due(r.end)
	fmt.Fprintf(b, "#%d\n", int64(math.Round(r.end*1e3)))
	if err := b.Flush(); err != nil {
		return fmt.Errorf("recording: %w", err)
	}
	return nil
}

func bit(v bool) int {
	if v {
		return 1
	}
	return 0
}
