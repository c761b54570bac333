package livebench

import (
	"testing"

	"phasewright/bench"
)

// BenchmarkBenchTick is one step of the loop with twenty pages that take everything: physics, drawing and sending to
// their queues. The loop does 15 a second; bytes/s is what one page then gets.
func BenchmarkBenchTick(b *testing.B) {
	for _, at := range []struct {
		name string
		rpm  string
	}{{"at rest", ""}, {"on the starter", "0"}, {"idle", "750"}, {"near the redline", "5000"}} {
		b.Run(at.name, func(b *testing.B) {
			c := start()
			r := byHand(b, order{Config: bench.Default()}, c)
			var all []*watcher
			for range 20 {
				w, err := r.watch(ada, "t")
				if err != nil {
					b.Fatal(err)
				}
				all = append(all, w)
			}
			sent := 0
			take := func() {
				for _, w := range all {
					for len(w.c) > 0 {
						sent += len(<-w.c)
					}
				}
			}
			step := func() {
				c.now = c.now.Add(benchPeriod)
				r.tick(c.now)
				take()
			}
			if at.rpm != "" {
				for _, on := range []string{"key", "light", "starter"} {
					act(b, r, ada, "t", on, "to", "on")
				}
				if at.rpm != "0" {
					act(b, r, ada, "t", "fuel", "to", "on")
				}
				for range 45 {
					step()
				}
			}
			if at.rpm != "" && at.rpm != "0" {
				act(b, r, ada, "t", "starter", "to", "off")
				act(b, r, ada, "t", "lever", "rpm", at.rpm)
				for range 150 {
					step()
				}
				if !r.state.Runs {
					b.Fatal("the engine does not run")
				}
			}
			sent = 0
			n := 0
			for b.Loop() {
				step()
				n++
			}
			b.ReportMetric(float64(sent)/float64(len(all))/float64(n)/benchPeriod.Seconds(), "bytes/s/page")
			b.ReportMetric(r.mean.rpm(), "rpm")
		})
	}
}
