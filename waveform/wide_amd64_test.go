package waveform

import (
	"bytes"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// plainly runs f without the wide registers.
func plainly(f func()) {
	was := wide
	wide = false
	defer func() { wide = was }()
	f()
}

func needWide(t testing.TB) {
	if !wide {
		t.Skip("SKIPPED: this processor has no wide registers, so nothing is compared with them")
	}
}

// TestWideIsPlain: whole recordings come out the same to the last digit with and without the wide registers.
func TestWideIsPlain(t *testing.T) {
	needWide(t)
	cases := map[string][]byte{"table": hardTable(9000, "\n"), "table, CRLF": hardTable(3000, "\r\n"), "stereo": hardWave(t, 30000)}
	for _, n := range []int{1, 2, 4} {
		cases[fmt.Sprintf("%d channels", n)] = hardWaves(n, 40000)
	}
	rng := rand.New(rand.NewPCG(8, 9))
	for _, sep := range []string{",", ";", "\t"} {
		for places := range 17 {
			cases[fmt.Sprintf("%q, %d places", sep, places)] = mixedTable(rng, sep, places)
		}
	}
	for name, data := range cases {
		for _, opt := range []Options{{}, {Chunk: 1009}, {Overview: true}} {
			got, want := plain(t, data, opt), ""
			plainly(func() { want = plain(t, data, opt) })
			if got != want {
				t.Errorf("%s: %s", name, firstDifference(got, want))
			}
		}
	}
}

// mixedTable is an invented table whose cells go through every shape: signs, places that change, exponents, blanks, words, lengths up to nineteen characters.
func mixedTable(rng *rand.Rand, sep string, places int) []byte {
	mark := "."
	if sep == ";" {
		mark = ","
	}
	var b bytes.Buffer
	b.WriteString("time" + sep + "a" + sep + "b\n")
	for i := range 3000 {
		b.WriteString(strings.ReplaceAll(strconv.FormatFloat(float64(i)/64, 'f', min(places, 6), 64), ".", mark) + sep)
		v := float64(i/50%2)*5 + 0.01*rng.NormFloat64()
		cell := strconv.FormatFloat(v, 'f', places, 64)
		switch rng.IntN(200) {
		case 0:
			cell = strconv.FormatFloat(v, 'e', places, 64)
		case 1:
			cell = strconv.FormatFloat(v, 'f', (places+3)%17, 64)
		case 2:
			cell = "+" + cell
		case 3:
			cell = ""
		case 4:
			cell = "---"
		case 5:
			cell = " " + cell
		case 6:
			cell = strconv.FormatFloat(v*1e9, 'f', places, 64)
		case 7:
			cell = "-.5"
		}
		b.WriteString(strings.ReplaceAll(cell, ".", mark) + sep + strconv.Itoa(i/30%2) + "\n")
	}
	return b.Bytes()
}

// TestWideCells: each cell gives the bits that strconv.ParseFloat (the reference) gives, or is refused; good cells of up to fifteen digits are not refused, and
// no broken one is taken.
func TestWideCells(t *testing.T) {
	needWide(t)
	rng := rand.New(rand.NewPCG(3, 4))
	shapes := wideShapes('.')
	taken, refused := 0, 0
	for range 200_000 {
		places := rng.IntN(maxPlaces + 1)
		digits := places + rng.IntN(20-places)
		cell := make([]byte, 0, 24)
		if rng.IntN(3) == 0 {
			cell = append(cell, '-')
		}
		for i := range digits {
			if i == digits-places && places > 0 {
				cell = append(cell, '.')
			}
			cell = append(cell, '0'+byte(rng.IntN(10)))
		}
		broken := rng.IntN(4) == 0 && len(cell) > 0
		if broken {
			cell[rng.IntN(len(cell))] = byte(rng.IntN(256))
		}
		text := append(append(make([]byte, chunkPad), "9.9,"...), cell...)
		text = append(append(text, '\n'), make([]byte, chunkPad)...)
		ends := []int32{chunkPad + 3, int32(chunkPad + 4 + len(cell))}
		at := cellsAt{text: &text[0], ends: &ends[0], column: 1, stride: 2, places: places, term: '\n', div: math.Pow(10, float64(places))}
		col := []float64{math.Inf(1), -7}
		n := at.cells(col[:1], 0, shapes)
		if col[1] != -7 {
			t.Fatal("wrote beyond the column")
		}
		want, err := strconv.ParseFloat(string(cell), 64)
		fine := err == nil && len(bytes.Trim(cell, "-0123456789.")) == 0
		switch {
		case n == 0:
			refused++
			if fine && !broken && digits > places && digits <= 15 {
				t.Fatalf("%q with %d places was refused", cell, places)
			}
		case !fine:
			t.Fatalf("%q with %d places was taken for %v", cell, places, col[0])
		case math.Float64bits(col[0]) != math.Float64bits(want):
			t.Fatalf("%q became %v, not %v", cell, col[0], want)
		default:
			taken++
		}
	}
	if taken < 50_000 || refused < 20_000 {
		t.Errorf("%d taken, %d refused: too few to tell", taken, refused)
	}
}

// TestWideEnds: the ends of cells against a look at every byte, for texts with few and with very many of them.
func TestWideEnds(t *testing.T) {
	needWide(t)
	rng := rand.New(rand.NewPCG(5, 6))
	for range 3000 {
		n, dense := 1+rng.IntN(1500), 1+rng.IntN(40)
		text := make([]byte, 2*chunkPad+n)
		for i := range n {
			c := byte(rng.IntN(256))
			if rng.IntN(dense) == 0 {
				c = ";\n\r"[rng.IntN(3)]
			}
			text[chunkPad+i] = c
		}
		from := chunkPad + rng.IntN(n)
		to := from + rng.IntN(chunkPad+n-from) + 1
		var want []int32
		for i := from; i < to; i++ {
			if c := text[i]; c == ';' || c == '\n' || c == '\r' {
				want = append(want, int32(i))
			}
		}
		if got := findEnds(text, from, to, &csvLayout{sep: ';'}, nil); !slices.Equal(got, want) {
			t.Fatalf("%d ends, not %d", len(got), len(want))
		}
	}
}

func TestWideExtremes(t *testing.T) {
	needWide(t)
	rng := rand.New(rand.NewPCG(7, 8))
	for range 20_000 {
		v := make([]float64, 1+rng.IntN(70))
		for i := range v {
			v[i] = rng.NormFloat64() * math.Pow(10, float64(rng.IntN(600)-300))
		}
		lo, hi := extremes(v)
		if lo != slices.Min(v) || hi != slices.Max(v) {
			t.Fatalf("%v: %v to %v", v, lo, hi)
		}
	}
}

// BenchmarkWide measures each loop both ways.
func BenchmarkWide(b *testing.B) {
	table := mixedTable(rand.New(rand.NewPCG(1, 1)), ",", 4)
	padded := append(append(make([]byte, chunkPad), table...), make([]byte, chunkPad)...)
	samples, out := make([]byte, 256<<10), make([][8]int16, 512)
	values := make([]float64, 4096)
	ends := make([]int32, len(table)+80)
	lay := &csvLayout{sep: ','}
	for name, loop := range map[string]struct {
		bytes int
		f     func()
	}{
		"minmax":   {len(samples), func() { minmax(samples, len(out), 512, out) }},
		"ends":     {len(table), func() { ends = findEnds(padded, chunkPad, chunkPad+len(table), lay, ends) }},
		"extremes": {8 * len(values), func() { extremes(values) }},
	} {
		run := func(b *testing.B) {
			b.SetBytes(int64(loop.bytes))
			for b.Loop() {
				loop.f()
			}
		}
		b.Run(name+"/wide", run)
		b.Run(name+"/plain", func(b *testing.B) { plainly(func() { run(b) }) })
	}
}
