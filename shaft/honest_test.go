package shaft

import (
	"context"
	"fmt"
	"math"
	"sort"
	"strings"
	"testing"

	"phasewright/jobcard"
	"phasewright/quantity"
	"phasewright/waveform"
)

// A reluctance pickup's other edge moves with speed: neither a vane width nor a cranking bias may be made of it.
func TestReluctancePulsesGiveNoVaneWidth(t *testing.T) {
	s := running()
	edges := s.run()
	for i := range edges { // the pulse's end comes sooner in degrees as speed rises: 30° less 4° at 4000 rpm
		if edges[i].Channel == chCrank && edges[i].Kind == waveform.Rise {
			edges[i].At -= 170e-6
		}
	}
	r := analyse(t, with(edges), fourNames, Options{Card: card()})
	if !math.IsNaN(float64(r.Crank.VaneWidthDeg)) {
		t.Errorf("vane width %v", r.Crank.VaneWidthDeg)
	}
	if math.Abs(r.Timing.Offset.Value) > 0.05 || math.Abs(r.Timing.Delay.Value) > 2 {
		t.Errorf("timing %+v", r.Timing)
	}
}

// A recording at cranking speed alone gives numbers, and no correction.
func TestCrankingAloneTurnsNoHousing(t *testing.T) {
	c := card()
	c.Engine.CrankingSpeed, c.Controller.Advance.Cranking = 190, jobcard.Set[quantity.Crank](13)
	d, deg, _ := legs(190, point{190, 5})
	s := eight(d, 0.5, deg-0.5)
	s.lead, s.leadSet, s.jitter = 52, 49, 0.05
	s.advance = func(float64) float64 { return 13 }
	r := analyse(t, s.run(), fourNames, Options{Card: c})
	tm := r.Timing
	if tm == nil || len(tm.ErrorAt) != 1 || math.Abs(tm.ErrorAt[0].Value-3) > tm.ErrorAt[0].U { // 3° of lead; the card's 13° while cranking is taken off, not the locked 10°
		t.Fatalf("timing %+v", tm)
	}
	if tm.Housing.Direction != "leave" || tm.Withheld == "" || tm.Verdict != "read more" {
		t.Errorf("cranking alone: %s, housing %+v, withheld %q", tm.Verdict, tm.Housing, tm.Withheld)
	}
}

func TestMarkLimitEntersTheUncertainty(t *testing.T) {
	edges := running().run()
	a := analyse(t, edges, fourNames, Options{Card: card()}).Timing
	b := analyse(t, edges, fourNames, Options{Card: card(), MarkLimit: 0.5}).Timing
	if want := math.Hypot(a.Offset.U, 0.5/math.Sqrt(3)); math.Abs(b.Offset.U-want) > 1e-12 || b.Delay.U != a.Delay.U {
		t.Errorf("u(offset) %v, want %v; u(delay) %v and %v", b.Offset.U, want, a.Delay.U, b.Delay.U)
	}
	if len(a.NotInU) == 0 || len(b.NotInU) != 0 {
		t.Errorf("left out: %q and %q", a.NotInU, b.NotInU)
	}
}

// A recording that does not tell the active edge, read without a card: that the edge is a guess is in U. With a card
// that says it, it is not.
func TestAssumedEdgeIsInU(t *testing.T) {
	d, deg, _ := legs(1000, point{4000, 6})
	edges := without(eight(d, 0.5, deg-0.5).run(), func(_ int, e waveform.Edge) bool { return e.Channel == chSpark })
	for at := 800.0 - 10; at < deg-800; at += 90 { // sparks by the shaft itself, as from a controller with a finer wheel
		now := waveform.Second(d.at(at))
		edges = append(edges, waveform.Edge{At: now - 2.2e-3, Channel: chSpark, Kind: waveform.Rise}, waveform.Edge{At: now, Channel: chSpark, Kind: waveform.Fall})
	}
	sort.SliceStable(edges, func(i, j int) bool { return edges[i].At < edges[j].At })
	for _, c := range []*jobcard.Card{nil, card()} {
		r := analyse(t, edges, fourNames, Options{Card: c, MarkLimit: 0.5, Cylinders: 8, Commanded: locked(9)})
		told := r.Timing.Offset.Expanded() > 0.65 // 0.5° of the mark alone make 0.57°, an assumed edge 0.25° by standard deviation
		if assumed := strings.HasPrefix(r.Crank.ActiveBecause, "assumed"); told != assumed || assumed != (c == nil) {
			t.Errorf("card %v: edge %s (%s), U %.2f", c != nil, r.Crank.ActiveEdge, r.Crank.ActiveBecause, r.Timing.Offset.Expanded())
		}
	}
}

func TestSparksThatEnd(t *testing.T) {
	d, deg, _ := legs(900, point{3000, 3}, point{3000, 1}, point{600, 3})
	edges := eight(d, 0.5, deg-0.5).run()
	cut := without(edges, func(_ int, e waveform.Edge) bool { return e.Channel == chSpark && e.At > 5 })
	r := analyse(t, cut, fourNames, Options{Card: card()})
	if !r.Found(FoundSparksEnd) || len(r.Anomalies) > 0 {
		t.Errorf("ignition off while the engine runs down: findings %+v, anomalies %v", r.Findings, r.Anomalies)
	}
	// The same for a while only is a dropout.
	cut = without(edges, func(_ int, e waveform.Edge) bool { return e.Channel == chSpark && e.At > 4 && e.At < 4.2 })
	r = analyse(t, cut, fourNames, Options{Card: card()})
	wantAnomaly(t, r, Dropout, 4, 0.02, "C")
}

// An engine that stops and is started again loses nothing.
func TestStopAndStartAgain(t *testing.T) {
	d, deg := sweep()
	one := eight(d, 0.5, deg-0.5).run()
	var edges []waveform.Edge
	for i := range 3 {
		for _, e := range one {
			e.At += waveform.Second(float64(i) * 25) // nine seconds of standstill
			edges = append(edges, e)
		}
	}
	r := analyse(t, edges, fourNames, Options{Card: card()})
	if r.Stops != 2 || r.Sync != SyncHeld || len(r.Anomalies) > 0 {
		t.Errorf("stops %d, sync %s, anomalies %v", r.Stops, r.Sync, r.Anomalies)
	}
}

// A vane miscounted for good, as the wheel slipping would show: the cam edge stands one vane off from there on.
func TestSyncLostByTheCam(t *testing.T) {
	edges := running().run()
	at, by := 3.0, 0.0
	for _, e := range edges {
		if e.Channel == chCam && float64(e.At) > at && e.Kind == waveform.Fall {
			at = float64(e.At)
			break
		}
	}
	out := append([]waveform.Edge(nil), edges...)
	i, _ := pulseAt(edges, chCrank, waveform.Fall, at)
	j, _ := pulseAt(edges, chCrank, waveform.Fall, float64(edges[i].At)+1e-9)
	by = float64(edges[j].At - edges[i].At)
	for k := range out {
		if out[k].Channel == chCam && float64(out[k].At) >= at {
			n := 0
			for m := k; m < len(out) && n < 2; m++ { // one crank interval later, whatever the speed
				if out[m].Channel == chCrank && out[m].Kind == waveform.Fall {
					n++
					if n == 2 {
						a, _ := pulseAt(edges, chCrank, waveform.Fall, float64(edges[k].At))
						out[k].At = edges[k].At + (edges[m].At - edges[a].At)
					}
				}
			}
		}
	}
	r := analyse(t, with(out), fourNames, Options{Cylinders: 8})
	if r.Sync != SyncLost || len(r.Losses) != 1 || math.Abs(r.Losses[0].TimeS-at) > 2*by || math.IsNaN(float64(r.Losses[0].RegainedS)) {
		t.Errorf("sync %s, losses %+v, cam moved at %.3f; anomalies %v", r.Sync, r.Losses, at, r.Anomalies)
	}
}

func TestSummaryIsShort(t *testing.T) {
	s := running()
	s.delay = 145
	r := analyse(t, s.run(), fourNames, Options{Card: card()})
	var b strings.Builder
	if err := r.WriteSummary(&b); err != nil {
		t.Fatal(err)
	}
	lines := strings.Count(b.String(), "\n")
	if lines > 20 || lines < 10 {
		t.Errorf("%d lines:\n%s", lines, b.String())
	}
	for _, want := range []string{"8 vanes", "held", "delay left over 8", "dwell 2.20 ms"} {
		if !strings.Contains(b.String(), want) {
			t.Errorf("summary lacks %q:\n%s", want, b.String())
		}
	}
}

// Edges at hand, the engine's data from a job card, and one line of what came out.
func ExampleRun() {
	edges := running().run() // an invented eight on its own test rig, never faster than 4000 rpm where its card claims 5500
	r, err := Run(context.Background(), Events{Info: info("crank", "cam", "spark", "mark"), Edges: edges, End: 7}, Options{Card: card()})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%d vanes, sync %s, offset %.1f, %s\n", r.Crank.EdgesPerCycle, r.Sync, quantity.Crank(r.Timing.Offset.Value), r.Timing.Verdict)
	// Output: 8 vanes, sync held, offset 0.0°, read more
}
