//go:build unix

package shaft

import (
	"context"
	"math"
	"syscall"
	"testing"
)

func BenchmarkTrack(b *testing.B) {
	l := loop(0.05)
	l.times = 200
	b.ReportAllocs()
	cpu := cpuSeconds()
	for b.Loop() {
		if _, err := Run(context.Background(), l, Options{Cylinders: 8, Commanded: locked(9)}); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(l.times*len(l.edges))*float64(b.N)/b.Elapsed().Seconds()/1e6, "Medges/s")
	b.ReportMetric(float64(l.times*len(l.edges))*float64(b.N)/(cpuSeconds()-cpu)/1e6, "Medges/cpu-s")
}

// cpuSeconds is what this process has used: on a machine with neighbours the clock on the wall tells little.
func cpuSeconds() float64 {
	var u syscall.Rusage
	if syscall.Getrusage(syscall.RUSAGE_SELF, &u) != nil {
		return math.NaN()
	}
	return float64(u.Utime.Sec+u.Stime.Sec) + float64(u.Utime.Usec+u.Stime.Usec)/1e6
}
