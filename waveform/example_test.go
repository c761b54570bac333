package waveform_test

import (
	"context"
	"fmt"
	"strings"

	"phasewright/waveform"
)

// printer is a sink that prints what it is given.
type printer struct{ names []string }

func (p *printer) Begin(i waveform.Info) error {
	for _, c := range i.Channels {
		fmt.Printf("%s: low %g V, high %g V\n", c.Name, c.Low, c.High)
		p.names = append(p.names, c.Name)
	}
	return nil
}

func (p *printer) Edges(edges []waveform.Edge) error {
	for _, e := range edges {
		fmt.Printf("%.1f µs %s %v\n", float64(e.At)*1e6, p.names[e.Channel], e.Kind)
	}
	return nil
}

// A short invented table of a scope: the edge stands where the line between two samples passes half-way.
func ExampleScan() {
	table := "Time,Channel A\n(us),(V)\n0,0\n1,0\n2,0\n3,4\n4,5\n5,5\n6,5\n7,0\n8,0\n9,0\n"
	r, err := waveform.Scan(context.Background(), waveform.File("scope.csv", strings.NewReader(table), int64(len(table))), waveform.Options{}, &printer{})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(r.Rows, "samples,", r.Channels[0].Rises, "up,", r.Channels[0].Falls, "down")
	// Output:
	// Channel A: low 0 V, high 5 V
	// 0.0 µs Channel A low
	// 2.6 µs Channel A rise
	// 6.5 µs Channel A fall
	// 10 samples, 1 up, 1 down
}
