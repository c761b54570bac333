package signal

import (
	"bytes"
	"context"
	"testing"
)

type counter struct{ n int64 }

func (*counter) Begin(Info) error { return nil }

func (c *counter) Edges(e []Edge) error { c.n += int64(len(e)); return nil }

func benchScan(b *testing.B, data []byte, least int64) {
	b.SetBytes(int64(len(data)))
	for b.Loop() {
		c := &counter{}
		if _, err := Scan(context.Background(), File("x", bytes.NewReader(data), int64(len(data))), Options{Overview: true}, c); err != nil {
			b.Fatal(err)
		}
		if c.n < least {
			b.Fatalf("%d edges", c.n)
		}
	}
}

func BenchmarkScanCSV(b *testing.B) {
	data := tableBytes(3_000_000)
	benchScan(b, data, 14000)
}
