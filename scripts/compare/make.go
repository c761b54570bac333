package main

import (
	"bufio"
	"bytes"
	"encoding/binary"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"strings"
)

// The captures are invented: six cylinders, swept from 1000 to 6000 rpm and back again and again, two seconds each way:
// a vane and a dwell of 2 ms for each firing, a cam window every six firings, a mark once a turn. The table has a row a
// microsecond, the dump a change where there is one, the recording 192,000 samples a second. Beside each stand the
// dialects that instruments write.

// captures are the files to make, by name.
var captures = []struct {
	name string
	fill func(*bufio.Writer, int64)
}{
	{"capture.csv", tableOf(",", ".", plainNumber)},
	{"exponents.csv", tableOf(",", ".", exponentNumber)},
	{"quoted.csv", tableOf(",", ".", quotedNumber)},
	{"blanks.csv", tableOf(", ", ".", plainNumber)},
	{"comma.csv", tableOf(";", ",", plainNumber)},
	{"capture.vcd", makeVCD},
	{"vectors.vcd", makeVectors},
	{"capture.wav", waveOf(16, 1)},
	{"24bit.wav", waveOf(24, 1)},
	{"32bit.wav", waveOf(32, 1)},
	{"float.wav", waveOf(32, 3)},
}

func makeAll(dir, megabytes string) error {
	mb, err := strconv.Atoi(megabytes)
	if err != nil {
		return err
	}
	for _, m := range captures {
		path := filepath.Join(dir, m.name)
		if st, err := os.Stat(path); err == nil && st.Size() > int64(mb)*900_000 {
			continue
		}
		f, err := os.Create(path)
		if err != nil {
			return err
		}
		w := bufio.NewWriterSize(f, 1<<20)
		m.fill(w, int64(mb)*1_000_000)
		if err := w.Flush(); err != nil {
			return err
		}
		if err := f.Close(); err != nil {
			return err
		}
		fmt.Println("made", path)
	}
	return nil
}

const (
	sweep   = 2e6        // microseconds from the lowest to the highest speed
	slowest = 1000. / 20 // firings a second: three a turn
	fastest = 6000. / 20
	dwell   = 2000 // microseconds
)

// firings is how many firings the engine has done at a microsecond: whole sweeps by their mean speed, and a part.
func firings(us int64) float64 {
	sweeps := math.Floor(float64(us) / sweep)
	x := float64(us)/sweep - sweeps
	from, to := slowest, fastest
	if int64(sweeps)&1 == 1 {
		from, to = to, from
	}
	return sweep / 1e6 * (sweeps*(slowest+fastest)/2 + from*x + (to-from)*x*x/2)
}

// engine is the running engine.
type engine struct {
	sparks float64 // as many as have begun to dwell
	began  int64   // microsecond at which the last did
}

// levels gives the states of the channels at a microsecond, which must not be before the last.
func (e *engine) levels(us int64) [4]bool {
	// a dwell ends where a tenth of the way to the next vane is done
	if n := math.Floor(firings(us+dwell) - 0.1); n > e.sparks {
		e.sparks, e.began = n, us
	}
	f := firings(us)
	return [4]bool{part(f) < 0.5, part(f/6) < 1./6, e.sparks > 0 && us-e.began < dwell, part(f/3) < 0.01}
}

func part(x float64) float64 { return x - math.Floor(x) }

var amplitudes = [4]float64{5, 5, 12, 3.3}

// plainNumber writes 0.0123, exponentNumber 1.23000E-02, quotedNumber "0.0123"; places are those of a plain number.
func plainNumber(b []byte, v float64, places int) []byte {
	return strconv.AppendFloat(b, v, 'f', places, 64)
}

func exponentNumber(b []byte, v float64, places int) []byte {
	return strconv.AppendFloat(b, v, 'E', places+1, 64)
}

func quotedNumber(b []byte, v float64, places int) []byte {
	return append(plainNumber(append(b, '"'), v, places), '"')
}

// tableOf makes a table with the given separator, decimal mark and way of writing numbers.
func tableOf(sep, dec string, number func(b []byte, v float64, places int) []byte) func(*bufio.Writer, int64) {
	return func(w *bufio.Writer, size int64) {
		rng := rand.New(rand.NewPCG(3, 4))
		fmt.Fprintln(w, strings.Join([]string{"time", "crank", "cam", "spark", "mark"}, sep))
		noise := make([]float64, 4096)
		for i := range noise {
			noise[i] = 0.02 * rng.NormFloat64()
		}
		var n int64
		b := make([]byte, 0, 128)
		var e engine
		for i := int64(0); n < size; i++ {
			on := e.levels(i)
			b = number(b[:0], float64(i)/1e6, 6)
			for c := range 4 {
				v := noise[(i*7+int64(c)*1031)&4095]
				if on[c] {
					v += amplitudes[c]
				}
				b = number(append(b, sep...), v, 4)
			}
			if b = append(b, '\n'); dec != "." {
				b = bytes.ReplaceAll(b, []byte("."), []byte(dec))
			}
			w.Write(b)
			n += int64(len(b))
		}
	}
}

func makeVCD(w *bufio.Writer, size int64) {
	fmt.Fprint(w, "$timescale 1 us $end\n$scope module bench $end\n$var wire 1 ! crank $end\n$var wire 1 \" cam "+
		"$end\n$var wire 1 # spark $end\n$var wire 1 $ mark $end\n$upscope $end\n$enddefinitions $end\n")
	var n int64
	var last [4]int
	for c := range last {
		last[c] = -1
	}
	b := make([]byte, 0, 64)
	var e engine
	for i := int64(0); n < size; i++ {
		b = b[:0]
		on := e.levels(i * 10) // a logic analyser at 100 kHz
		for c := range 4 {
			s := 0
			if on[c] {
				s = 1
			}
			if s != last[c] {
				if len(b) == 0 {
					b = append(strconv.AppendInt(append(b, '#'), i*10, 10), '\n')
				}
				b = append(b, byte('0'+s), byte('!'+c), '\n')
				last[c] = s
			}
		}
		w.Write(b)
		n += int64(len(b))
	}
}

// makeVectors is makeVCD as a simulation writes it: beside the wires a counter of twelve bits that moves with each
// change of the crank, and the coil's current as a real, five values a pulse.
func makeVectors(w *bufio.Writer, size int64) {
	fmt.Fprint(w, "$timescale 1 us $end\n$scope module bench $end\n$var wire 1 ! crank $end\n$var wire 1 \" cam "+
		"$end\n$var wire 1 # spark $end\n$var wire 1 $ mark $end\n$var reg 12 % count [11:0] $end\n$var real 64 & "+
		"coil $end\n$upscope $end\n$enddefinitions $end\n")
	var n int64
	last := [4]int{-1, -1, -1, -1}
	b := make([]byte, 0, 64)
	var e engine
	for i := int64(0); n < size; i++ {
		on := e.levels(i * 10)
		b = strconv.AppendInt(append(b[:0], '#'), i*10, 10)
		head := len(b)
		for c := range 4 {
			s := 0
			if on[c] {
				s = 1
			}
			if s != last[c] {
				if last[c] = s; c == 0 {
					b = append(strconv.AppendInt(append(b, "\nb"...), i&4095, 2), " %"...)
				}
				b = append(b, '\n', byte('0'+s), byte('!'+c))
			}
		}
		if p := i * 10 % 3300; p%400 == 0 && p < 2000 {
			b = append(strconv.AppendFloat(append(b, "\nr"...), 7*float64(p)/2000, 'g', 6, 64), " &"...)
		}
		if len(b) > head {
			w.Write(append(b, '\n'))
			n += int64(len(b)) + 1
		}
	}
}

// waveOf makes a recording of four channels; format is 1 for integers, 3 for floats.
func waveOf(bits int, format uint16) func(*bufio.Writer, int64) {
	return func(w *bufio.Writer, size int64) {
		rng := rand.New(rand.NewPCG(5, 6))
		noise := make([]float64, 4096)
		for i := range noise {
			noise[i] = 60 * rng.NormFloat64()
		}
		each := bits / 8
		frame := 4 * each
		frames := size / int64(frame)
		h := make([]byte, 44)
		copy(h, "RIFF")
		binary.LittleEndian.PutUint32(h[4:], uint32(36+frames*int64(frame)))
		copy(h[8:], "WAVEfmt ")
		binary.LittleEndian.PutUint32(h[16:], 16)
		binary.LittleEndian.PutUint16(h[20:], format)
		binary.LittleEndian.PutUint16(h[22:], 4)
		binary.LittleEndian.PutUint32(h[24:], 192000)
		binary.LittleEndian.PutUint32(h[28:], uint32(192000*frame))
		binary.LittleEndian.PutUint16(h[32:], uint16(frame))
		binary.LittleEndian.PutUint16(h[34:], uint16(bits))
		copy(h[36:], "data")
		binary.LittleEndian.PutUint32(h[40:], uint32(frames*int64(frame)))
		w.Write(h)
		b := make([]byte, 0, 32)
		var e engine
		for i := range frames {
			on := e.levels(i * 1000 / 192)
			b = b[:0]
			for c := range 4 {
				v := noise[(i*7+int64(c)*1031)&4095] - 6000
				if on[c] {
					v += 12000
				}
				x := uint32(int32(v * 65536))
				if format == 3 {
					x = math.Float32bits(float32(v / 32768))
				}
				for k := 4 - each; k < 4; k++ {
					b = append(b, byte(x>>(8*k)))
				}
			}
			w.Write(b)
		}
	}
}
