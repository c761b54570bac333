package shaft

import (
	"context"
	"encoding/binary"
	"encoding/json"
	"io"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"phasewright/waveform"
)

// pack writes the first n edges as the fuzz target reads them: the time since the last one, channel and kind.
func pack(edges []waveform.Edge, n int) []byte {
	var b []byte
	last := 0.0
	for _, e := range edges[:min(n, len(edges))] {
		d := float64(e.At) - last
		last = float64(e.At)
		b = binary.LittleEndian.AppendUint32(b, math.Float32bits(float32(d)))
		b = append(b, byte(e.Channel)|byte(e.Kind)<<4)
	}
	return b
}

// The same on spoilt copies of a sound recording, in every run of the tests.
func TestSpoiltEdges(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 1))
	clean := pack(running().run(), 600)
	rounds := 1500
	if testing.Short() {
		rounds = 150
	}
	for range rounds {
		data := append([]byte(nil), clean[:1+rng.IntN(len(clean)-1)]...)
		for range rng.IntN(30) {
			data[rng.IntN(len(data))] = byte(rng.IntN(256))
		}
		tryEdges(t, data, uint8(rng.IntN(256)))
	}
}

// FuzzEdges throws edges of any order at the analyser: it must end, keep to its bounds, and give a result that can
// be written.
func FuzzEdges(f *testing.F) {
	clean := running().run()
	f.Add(pack(clean, 600), uint8(0))
	f.Add(pack(only(clean, 2, 3, 1, 0), 400), uint8(8))
	odd := *running()
	odd.intervals, odd.widths = []float64{90, 150, 90, 150, 90, 150}, repeat(30, 6)
	f.Add(pack(odd.run(), 500), uint8(6))
	f.Add([]byte{}, uint8(1))
	f.Add([]byte{0, 0, 0, 0, 0, 0, 0, 0, 0, 16, 0, 0, 0x80, 0x7f, 1}, uint8(2))
	f.Fuzz(tryEdges)
}

func tryEdges(t *testing.T, data []byte, how uint8) {
	watch := time.AfterFunc(5*time.Second, func() { panic("does not end") })
	defer watch.Stop()
	var edges []waveform.Edge
	at := 0.0
	for len(data) >= 5 && len(edges) < 4000 {
		d := float64(math.Float32frombits(binary.LittleEndian.Uint32(data)))
		at += d
		edges = append(edges, waveform.Edge{At: waveform.Second(at), Channel: int32(data[4]&15) - 1 + int32(how>>7), Kind: waveform.EdgeKind(data[4] >> 4 % 8)})
		if math.IsNaN(at) || math.IsInf(at, 0) {
			at = 0
		}
		data = data[5:]
	}
	opt := Options{Cylinders: int(how & 15), Commanded: locked(9), MostAnomalies: 50}
	if how&16 != 0 {
		opt.Card = card()
		opt.Cylinders = 0
	}
	if how&32 != 0 {
		opt.Roles = map[string]Role{"A": Crank, "B": Cam, "C": Spark, "D": Mark}
	}
	r, err := Run(context.Background(), Events{Info: info("A", "B", "C", "D", "E"), Edges: edges, End: waveform.Second(at)}, opt)
	if err != nil {
		t.Fatal(err)
	}
	if len(r.Anomalies) > 50 || len(r.Losses) > 1000 || r.Series != nil && (len(r.Series.Speed) > mostSlices || len(r.Series.BySpeed) > mostSpeedPoints) {
		t.Error("a list is out of bounds")
	}
	for i := 1; i < len(r.Anomalies); i++ {
		if r.Anomalies[i].TimeS < r.Anomalies[i-1].TimeS {
			t.Error("anomalies out of order")
		}
	}
	if _, err := json.Marshal(r); err != nil {
		t.Errorf("%v: %+v", err, r)
	}
	if err := r.WriteSummary(io.Discard); err != nil {
		t.Error(err)
	}
}
