package main

import (
	"bufio"
	"encoding/binary"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
)

// The captures are invented: six cylinders at 6060 rpm, the busiest an engine gets: a vane edge and a 2 ms spark pulse every 3.3 ms, a cam window every six
// firings, a mark once a turn. The table has a row a microsecond, the dump a change where there is one, the recording 192,000 samples a second.

func makeAll(dir, megabytes string) error {
	mb, err := strconv.Atoi(megabytes)
	if err != nil {
		return err
	}
	for _, m := range []struct {
		name string
		fill func(*bufio.Writer, int64)
	}{{"capture.csv", makeCSV}, {"capture.vcd", makeVCD}, {"capture.wav", makeWAV}} {
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

// level gives a channel's state at a microsecond.
func level(ch int, us int64) bool {
	switch ch {
	case 0:
		return us%3300 < 1650
	case 1:
		return us%19800 < 3300
	case 2:
		return (us+1200)%3300 < 2000
	}
	return us%9900 < 110
}

var amplitudes = [4]float64{5, 5, 12, 3.3}

func makeCSV(w *bufio.Writer, size int64) {
	rng := rand.New(rand.NewPCG(3, 4))
	fmt.Fprintln(w, "time,crank,cam,spark,mark")
	noise := make([]float64, 4096)
	for i := range noise {
		noise[i] = 0.02 * rng.NormFloat64()
	}
	var n int64
	b := make([]byte, 0, 128)
	for i := int64(0); n < size; i++ {
		b = strconv.AppendFloat(b[:0], float64(i)/1e6, 'f', 6, 64)
		for c := range 4 {
			v := noise[(i*7+int64(c)*1031)&4095]
			if level(c, i) {
				v += amplitudes[c]
			}
			b = strconv.AppendFloat(append(b, ','), v, 'f', 4, 64)
		}
		b = append(b, '\n')
		w.Write(b)
		n += int64(len(b))
	}
}

func makeVCD(w *bufio.Writer, size int64) {
	fmt.Fprint(w, "$timescale 1 us $end\n$scope module bench $end\n$var wire 1 ! crank $end\n$var wire 1 \" cam $end\n$var wire 1 # spark $end\n$var wire 1 $ mark $end\n$upscope $end\n$enddefinitions $end\n")
	var n int64
	var last [4]int
	for c := range last {
		last[c] = -1
	}
	b := make([]byte, 0, 64)
	for i := int64(0); n < size; i++ {
		b = b[:0]
		for c := range 4 {
			s := 0
			if level(c, i*10) { // a logic analyser at 100 kHz
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

func makeWAV(w *bufio.Writer, size int64) {
	rng := rand.New(rand.NewPCG(5, 6))
	noise := make([]float64, 4096)
	for i := range noise {
		noise[i] = 60 * rng.NormFloat64()
	}
	frames := size / 8
	h := make([]byte, 44)
	copy(h, "RIFF")
	binary.LittleEndian.PutUint32(h[4:], uint32(36+frames*8))
	copy(h[8:], "WAVEfmt ")
	binary.LittleEndian.PutUint32(h[16:], 16)
	binary.LittleEndian.PutUint16(h[20:], 1)
	binary.LittleEndian.PutUint16(h[22:], 4)
	binary.LittleEndian.PutUint32(h[24:], 192000)
	binary.LittleEndian.PutUint32(h[28:], 192000*8)
	binary.LittleEndian.PutUint16(h[32:], 8)
	binary.LittleEndian.PutUint16(h[34:], 16)
	copy(h[36:], "data")
	binary.LittleEndian.PutUint32(h[40:], uint32(frames*8))
	w.Write(h)
	b := make([]byte, 8)
	for i := range frames {
		for c := range 4 {
			v := noise[(i*7+int64(c)*1031)&4095] - 6000
			if level(c, i*1000/192) {
				v += 12000
			}
			binary.LittleEndian.PutUint16(b[2*c:], uint16(int16(v)))
		}
		w.Write(b)
	}
}
