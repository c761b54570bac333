package waveform

import (
	"bytes"
	"context"
	"errors"
	"math"
	"os"
	"testing"
)

// orderedSink fails when edges are not in order of time or carry nonsense.
type orderedSink struct {
	t    testing.TB
	n    int
	last Second
	info Info
}

func (s *orderedSink) Begin(i Info) error {
	s.last, s.info = Second(math.Inf(-1)), i
	if len(i.Channels) == 0 {
		s.t.Error("no channels")
	}
	return nil
}

func (s *orderedSink) Edges(edges []Edge) error {
	for _, e := range edges {
		if !(e.At >= s.last) || e.Channel < 0 || int(e.Channel) >= len(s.info.Channels) || e.Kind > ShortLow || e.Width < 0 {
			s.t.Errorf("edge %+v after %v", e, s.last)
		}
		s.last = e.At
		s.n++
	}
	return nil
}

// checkScan asserts what holds for any input: no panic, ordered edges, faults with their place, results that do not
// depend on the chunks, and bounded output.
func checkScan(t *testing.T, data []byte) {
	if len(data) > 1<<16 {
		return
	}
	opt := Options{Workers: 1, Overview: true, MaxDecompressed: 1 << 20}
	s := &orderedSink{t: t}
	r, err := Scan(context.Background(), File("f", bytes.NewReader(data), int64(len(data))), opt, s)
	var p *Problem
	if err != nil && !errors.As(err, &p) {
		t.Fatalf("%v is no Problem", err)
	}
	if err != nil && p.Line <= 0 && p.Byte < 0 && p.Kind != ErrImpossible {
		t.Fatalf("%v has no place", err)
	}
	if r == nil {
		return
	}
	if err != nil && r.Partial == nil {
		t.Fatalf("%v, but the result is not labelled partial", err)
	}
	if s.n > 8<<20 {
		t.Fatalf("%d edges", s.n)
	}
	if r.End > r.Start {
		if e, err := r.Overview.Query(context.Background(), 0, r.Start, r.End, 7); err == nil && len(e) != 7 {
			t.Fatalf("%d columns", len(e))
		}
	}
	if len(data) > 4096 {
		return
	}
	opt.Chunk, opt.Workers = 31, 2
	again := &orderedSink{t: t}
	b, err2 := Scan(context.Background(), File("f", bytes.NewReader(data), int64(len(data))), opt, again)
	if (err == nil) != (err2 == nil) || err != nil && err.Error() != err2.Error() || again.n != s.n || b != nil && b.Rows != r.Rows {
		t.Fatalf("%v, %d edges, %d rows; in small chunks %v, %d, %v", err, s.n, r.Rows, err2, again.n, b)
	}
}

func FuzzCSV(f *testing.F) {
	addCases(f, "csv_cases.json", "csv")
	f.Add(hardTable(60, "\n"))
	f.Add(hardTable(20, "\r\n"))
	f.Add([]byte("Times;CH1;CH2\r\n0 ns;1;1\r\n4.860 530 ms;1;0\r\n"))
	f.Fuzz(checkCSV)
}

func checkCSV(t *testing.T, data []byte) { checkScan(t, data) }

func FuzzVCD(f *testing.F) {
	addCases(f, "vcd_cases.json", "vcd")
	f.Add(hardVCD(40))
	f.Fuzz(func(t *testing.T, data []byte) { checkScan(t, data) })
}

func FuzzWAV(f *testing.F) {
	f.Add(hardWave(f, 300))
	for _, bits := range []int{8, 24, 32, 64} {
		f.Add(append(wavHeader(2, 8000, bits, 40), make([]byte, 40*2*bits/8)...))
	}
	float := append(wavHeader(1, 8000, 32, 16), make([]byte, 64)...)
	float[20] = 3
	f.Add(float)
	f.Add(append([]byte("RF64\xff\xff\xff\xffWAVEds64\x1c\x00\x00\x00"+"\x00\x00\x00\x00\x00\x00\x00\x00"+"\x10\x00\x00\x00\x00\x00\x00\x00"+"\x08\x00\x00\x00\x00\x00\x00\x00"+"\x00\x00\x00\x00"), append(wavHeader(1, 8000, 16, 8)[12:], make([]byte, 16)...)...))
	f.Fuzz(func(t *testing.T, data []byte) { checkScan(t, data) })
}

func FuzzCompressed(f *testing.F) {
	f.Add(gz(f, hardTable(30, "\n")))
	f.Add(gz(f, hardVCD(20), hardVCD(3)))
	f.Add(zst(f, hardTable(30, "\n")))
	f.Fuzz(func(t *testing.T, data []byte) { checkScan(t, data) })
}

// addCases seeds a fuzz target with a file of cases.
func addCases(f *testing.F, name, key string) {
	raw, err := os.ReadFile("testdata/" + name)
	if err != nil {
		f.Fatal(err)
	}
	for _, text := range caseTexts(f, raw, key) {
		f.Add([]byte(text))
	}
}
