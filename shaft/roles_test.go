package shaft

import (
	"context"
	"encoding/json"
	"errors"
	"math"
	"strings"
	"testing"

	"phasewright/jobcard"
	"phasewright/quantity"
	"phasewright/shaft/terms"
	"phasewright/waveform"
)

// card is an invented job card of the eight.
func card() *jobcard.Card {
	c := &jobcard.Card{}
	c.Engine.Cylinders = 8
	c.Engine.FiringOrder = []int{1, 5, 6, 8, 4, 2, 7, 3}
	for range 8 {
		c.Engine.Intervals = append(c.Engine.Intervals, 90)
	}
	c.Engine.IdleSpeed, c.Engine.Redline = 800, 5500
	c.Signals.Crank = jobcard.CrankPickup{VaneWidth: 15, InVane: jobcard.Low, ActiveEdge: jobcard.Falling, Lead: 49}
	c.Signals.Cam = jobcard.CamPickup{Fitted: true, VaneWidth: 40, InVane: jobcard.Low, ActiveEdge: jobcard.Falling, EdgeAt: 109}
	c.Controller.Advance.Locked = jobcard.Set[quantity.Crank](9)
	c.Controller.DelayAllowance, c.Controller.DelayStep = jobcard.Set[quantity.Time](90), jobcard.Set[quantity.Time](15)
	c.Tolerance = 1
	return c
}

func running() *synth {
	d, deg, _ := legs(900, point{900, 1}, point{4000, 3}, point{900, 3})
	s := eight(d, 0.5, deg-0.5)
	s.jitter = 0.05
	return s
}

func flip(edges []waveform.Edge, ch int32) []waveform.Edge {
	out := append([]waveform.Edge(nil), edges...)
	for i := range out {
		if out[i].Channel == ch {
			out[i].Kind = 1 - out[i].Kind
		}
	}
	return out
}

func swap(edges []waveform.Edge, a, b int32) []waveform.Edge {
	out := append([]waveform.Edge(nil), edges...)
	for i := range out {
		switch out[i].Channel {
		case a:
			out[i].Channel = b
		case b:
			out[i].Channel = a
		}
	}
	return out
}

func TestCardGivesCylindersAndVerdict(t *testing.T) {
	s := running()
	s.delay = 145 // 40 + 145 − 100: 85 µs left over
	r := analyse(t, s.run(), fourNames, Options{Card: card()})
	if len(r.Findings) != 0 {
		t.Errorf("findings on a sound engine: %+v", r.Findings)
	}
	var order []int
	for _, c := range r.Spark.ByCylinder {
		order = append(order, c.Cylinder)
	}
	for i, want := range card().Engine.FiringOrder {
		if i >= len(order) || order[i] != want {
			t.Fatalf("cylinders %v, firing order %v", order, card().Engine.FiringOrder)
		}
	}
	if r.Timing.Allowance.Now != 90 || r.Timing.Allowance.Set != 180 { // 85 µs are 5.7 steps of 15
		t.Errorf("allowance %+v", r.Timing.Allowance)
	}
	if r.Timing.Verdict != "adjust" { // 6·5500·85e-6 = 2.8° late at the redline against 1°
		t.Errorf("verdict %s", r.Timing.Verdict)
	}
	// By hand: the active edge of the cylinder that fires third stands 180° after cylinder 1's.
	for _, c := range r.Series.Cycle {
		if c.Role == Crank && c.Edge == "falling" && c.Cylinder == 6 {
			if want := 180.0 - 49; math.Abs(c.Deg-want) > 0.1 {
				t.Errorf("active edge of cylinder 6 at %v after TDC, by hand %v", c.Deg, want)
			}
		}
	}
}

func TestCamWindowByHand(t *testing.T) {
	// Cam vane from 109° to 29° BTDC; active crank edges (vanes entering) at 49° and 139° BTDC, the others (leaving) at
	// 19° and 109° BTDC. Entering cam edge: 30° after one active edge, 60° before the next, on another edge's place.
	// Leaving: 20° after, 70° before; 10° from an other.
	d, deg, _ := legs(1000, point{3000, 5})
	s := eight(d, 0.5, deg-0.5)
	s.pickup = 0
	r := analyse(t, s.run(), fourNames, Options{Card: card()})
	c := r.Cam
	if c == nil || len(c.Edges) != 2 {
		t.Fatalf("cam %+v", c)
	}
	for i, want := range []CamEdge{
		{Edge: "falling", AtDeg: 660, MarginDeg: 30, AfterEdge: 30, BeforeEdge: 60, OtherDeg: 0},
		{Edge: "rising", AtDeg: 20, MarginDeg: 20, AfterEdge: 20, BeforeEdge: 70, OtherDeg: 10},
	} {
		g := c.Edges[i]
		for _, v := range [][2]float64{{g.AtDeg, want.AtDeg}, {g.MarginDeg, want.MarginDeg},
			{g.AfterEdge, want.AfterEdge}, {g.BeforeEdge, want.BeforeEdge}, {g.OtherDeg, want.OtherDeg}} {
			if math.Abs(v[0]-v[1]) > 0.05 {
				t.Errorf("%s cam edge: %+v, by hand %+v", g.Edge, g, want)
				break
			}
		}
	}
	// The names in JSON say the same: 30° after an edge and 60° before one.
	data, err := json.Marshal(c.Edges[0])
	if err != nil {
		t.Fatal(err)
	}
	var named struct {
		After  float64 `json:"after_edge_deg"`
		Before float64 `json:"before_edge_deg"`
	}
	if err := json.Unmarshal(data, &named); err != nil {
		t.Fatal(err)
	}
	if math.Abs(named.After-30) > 0.05 || math.Abs(named.Before-60) > 0.05 {
		t.Errorf("after_edge_deg %v, before_edge_deg %v, by hand 30 and 60", named.After, named.Before)
	}
	if c.SafeEdge != "falling" || math.Abs(c.SafeMarginDeg-30) > 0.05 || math.Abs(c.WindowDeg-80) > 0.05 {
		t.Errorf("safe edge %s %v, window %v", c.SafeEdge, c.SafeMarginDeg, c.WindowDeg)
	}
	// Only one active edge (49° BTDC) lies in the window, 20° from its nearer end.
	if c.ReadAt != "falling" || math.Abs(float64(c.LevelMarginDeg)-20) > 0.05 {
		t.Errorf("read at %s, margin %v", c.ReadAt, c.LevelMarginDeg)
	}
}

func TestSmallCamMarginIsFound(t *testing.T) {
	s := running()
	s.camAt, s.camWidth = 52, 89 // enters 3° before an active edge, leaves 4° before the next
	r := analyse(t, s.run(), fourNames, Options{Cylinders: 8})
	if !r.Found(FoundCamMargin) {
		t.Errorf("findings %+v, cam %+v", r.Findings, r.Cam)
	}
}

func TestWrongPolarityIsFound(t *testing.T) {
	s := running()
	edges := s.run()
	for _, c := range []struct {
		name    string
		edges   []waveform.Edge
		channel string
		id      string
	}{
		{"crank upside down", flip(edges, chCrank), "A", FoundPolarity},
		{"cam upside down", flip(edges, chCam), "B", FoundPolarity},
	} {
		r := analyse(t, c.edges, fourNames, Options{Card: card()})
		ok := false
		for _, f := range r.Findings {
			ok = ok || f.ID == c.id && f.Channel == c.channel
		}
		if !ok {
			t.Errorf("%s: findings %+v", c.name, r.Findings)
		}
	}
	right := analyse(t, running().run(), fourNames, Options{Card: card()})
	if right.Found(FoundWrongEdge) || right.Found(FoundPolarity) {
		t.Errorf("sound engine: %+v", right.Findings)
	}
}

// The controller acts on the edge that the vane makes as it leaves, 2·w late.
func TestSparksTimedFromTheOtherEdge(t *testing.T) {
	s := running()
	s.enter, s.lead, s.leadSet = false, 19, 49 // the vane enters 49° BTDC and leaves 19° BTDC; high while out of the vane: leaving rises
	s.highInVane = false
	r := analyse(t, s.run(), fourNames, Options{Card: card()})
	if !r.Found(FoundWrongEdge) {
		t.Errorf("findings %+v; active %s", r.Findings, r.Crank.ActiveBecause)
	}
	if h := r.Timing.Housing; h.Direction != "leave" || r.Timing.Withheld == "" {
		t.Errorf("the housing is to be turned for a wrong edge: %+v", h)
	}
	// Told the edge that the controller acts on, the error is the vane's 30° of crank, late.
	c := card()
	c.Signals.Crank.ActiveEdge = jobcard.Rising
	r = analyse(t, s.run(), fourNames, Options{Card: c})
	if r.Timing == nil || math.Abs(r.Timing.Offset.Value+30) > 0.1 {
		t.Errorf("timing %+v, want −30°", r.Timing)
	}
}

func TestSwappedLeads(t *testing.T) {
	edges := running().run()
	r := analyse(t, swap(edges, chCrank, chCam), []string{"crank", "cam", "spark", "mark"}, Options{})
	if !r.Found(FoundSwapped) || r.Channels[0].Role != Cam || r.Channels[1].Role != Crank {
		t.Errorf("by name: %+v %+v", r.Findings, r.Channels)
	}
	r = analyse(t, edges, fourNames, Options{Roles: map[string]Role{"A": Cam, "B": Crank}})
	if !r.Found(FoundSwapped) || r.Sync != SyncNone {
		t.Errorf("as stated: %+v, sync %s", r.Findings, r.Sync)
	}
	r = analyse(t, edges, []string{"crank", "cam", "spark", "mark"}, Options{})
	if r.Found(FoundSwapped) {
		t.Errorf("sound leads: %+v", r.Findings)
	}
}

func TestMissingAndWrongChannelsAreNamed(t *testing.T) {
	edges := running().run()
	swept := func() []waveform.Edge { d, deg := sweep(); return eight(d, 0.5, deg-0.5).run() }()
	for _, c := range []struct {
		name  string
		edges []waveform.Edge
		names []string
		opt   Options
		found string
		text  string
		sync  Sync
	}{
		{"no edges", nil, fourNames, Options{}, FoundNoEdges, "no channel changes", SyncNone},
		{"no channels", nil, nil, Options{}, FoundNoEdges, "no channels", SyncNone},
		{"no cam", only(edges, 0, 2, 3), []string{"A", "C", "D"}, Options{}, terms.FoundNoCam, "no cam signal was found", SyncNone},
		{"only spark", only(swept, 2), []string{"C"}, Options{}, FoundNoCrank, "keeps its pulse width", SyncNone},
		{"cam, mark and spark", only(swept, 1, 2, 3), []string{"B", "C", "D"}, Options{}, FoundNoCrank, "B and D look like cam and mark", SyncNone},
		{"cam and mark, card", only(swept, 1, 3), []string{"B", "D"}, Options{Card: card()}, FoundNoCrank, "B and D look like cam and mark", SyncNone},
		{"only crank", only(edges, 0), []string{"A"}, Options{}, FoundNoCrank, "nothing to tell their number", SyncNone},
		{"only crank, cylinders known", only(edges, 0), []string{"A"}, Options{Cylinders: 8, Roles: map[string]Role{"A": Crank}}, terms.FoundNoCam, "no cam signal", SyncNone},
		{"crank twice", with(edges, doubled(edges)...), []string{"A", "B", "C", "D", "E"}, Options{}, FoundSameChannels, "E carries the same edges as A", SyncHeld},
		{"unknown name", edges, fourNames, Options{Roles: map[string]Role{"Z": Spark}}, FoundNoChannel, `"Z"`, SyncHeld},
		{"six on the card", edges, fourNames, Options{Cylinders: 6}, FoundVaneCount, "8 crank pulses a cycle where 6", SyncHeld},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := analyse(t, c.edges, c.names, c.opt)
			ok := false
			for _, f := range r.Findings {
				ok = ok || f.ID == c.found && strings.Contains(f.Text, c.text)
			}
			if !ok {
				t.Errorf("findings %+v, want %s with %q", r.Findings, c.found, c.text)
			}
			if r.Sync != c.sync {
				t.Errorf("sync %s, want %s (%s)", r.Sync, c.sync, r.SyncBecause)
			}
			var b strings.Builder
			if err := r.WriteSummary(&b); err != nil {
				t.Error(err)
			}
		})
	}
}

func doubled(edges []waveform.Edge) []waveform.Edge {
	var out []waveform.Edge
	for _, e := range edges {
		if e.Channel == chCrank {
			e.Channel = 4
			out = append(out, e)
		}
	}
	return out
}

func TestNoCamStillTimes(t *testing.T) {
	s := running()
	r := analyse(t, only(s.run(), 0, 2, 3), []string{"A", "C", "D"}, Options{Cylinders: 8, Commanded: locked(9)})
	if r.Timing == nil || math.Abs(r.Timing.Offset.Value) > 0.05 || math.Abs(r.Timing.Delay.Value) > 2 {
		t.Errorf("timing without a cam: %+v", r.Timing)
	}
	if len(r.Spark.ByCylinder) != 0 {
		t.Error("cylinders were numbered without a cam")
	}
	if len(r.Anomalies) > 0 {
		t.Errorf("anomalies %v", r.Anomalies)
	}
}

// Steady speed: widths cannot tell metal from time. The sparks still follow the crank edges' own scatter.
func TestRolesAtSteadySpeed(t *testing.T) {
	for _, n := range []float64{200, 750, 3000} {
		d, deg, _ := legs(n, point{n, 1200 / n})
		s := eight(d, 0.5, deg-0.5)
		s.jitter, s.dwell = 0.05, 3e-3
		for name, order := range map[string][]int32{"straight": {0, 1, 2, 3}, "mixed": {2, 3, 1, 0}} {
			r := analyse(t, only(s.run(), order...), fourNames, Options{})
			for i, ch := range order {
				if want := []Role{Crank, Cam, Spark, Mark}[ch]; r.Channels[i].Role != want {
					t.Errorf("%v rpm, %s: channel %d is %s (%s), want %s", n, name, i, r.Channels[i].Role, r.Channels[i].Reason, want)
				}
			}
		}
	}
}

// Steady to the last microsecond, vane and dwell look alike: without a card what is in doubt stays open, with one the
// width of the vanes tells.
func TestRolesWithoutAnyScatter(t *testing.T) {
	for _, n := range []float64{750, 3000} {
		d, deg, _ := legs(n, point{n, 1200 / n})
		s := eight(d, 0.5, deg-0.5)
		s.dwell = 3e-3
		for name, order := range map[string][]int32{"straight": {0, 1, 2, 3}, "mixed": {2, 3, 1, 0}} {
			for _, opt := range []Options{{Card: card()}, {}} {
				r := analyse(t, only(s.run(), order...), []string{"ch1", "ch2", "ch3", "ch4"}, opt)
				for i, ch := range order {
					want, got := []Role{Crank, Cam, Spark, Mark}[ch], r.Channels[i].Role
					if got != want && (opt.Card != nil || got != Unknown) {
						t.Errorf("%v rpm, %s, card %v: channel %d is %s (%s), not %s", n, name, opt.Card != nil, i, got, r.Channels[i].Reason, want)
					}
				}
			}
		}
	}
}

func TestClampOnWireOne(t *testing.T) {
	s := running()
	edges := s.run()
	first := 0
	// Wire 1 only, as a 60 µs pulse at the spark.
	out := without(edges, func(_ int, e waveform.Edge) bool { return e.Channel == chSpark })
	for i, at := range s.sparkT {
		edge := s.crankT[i+len(s.crankT)-len(s.sparkT)][1]
		if math.Mod(math.Mod(edge+49, 720)+720.5, 720) < 1 {
			out = append(out, waveform.Edge{At: waveform.Second(at), Channel: chSpark, Kind: waveform.Rise}, waveform.Edge{At: waveform.Second(at + 60e-6), Channel: chSpark, Kind: waveform.Fall})
			first++
		}
	}
	r := analyse(t, with(out), fourNames, Options{Card: card()})
	if r.Channels[2].Role != Spark {
		t.Fatalf("%+v", r.Channels)
	}
	if r.Spark.Count != int64(first) || len(r.Spark.ByCylinder) != 1 || r.Spark.ByCylinder[0].Cylinder != 1 {
		t.Errorf("%d sparks of %d; by cylinder %+v", r.Spark.Count, first, r.Spark.ByCylinder)
	}
	if len(r.Anomalies) > 0 {
		t.Errorf("anomalies %v", r.Anomalies)
	}
	if !math.IsNaN(float64(r.Spark.DwellMS)) {
		t.Errorf("a clamp's pulse gives no dwell, not %v", r.Spark.DwellMS)
	}
	if math.Abs(r.Timing.Offset.Value) > 0.05 || math.Abs(r.Timing.Delay.Value) > 2 {
		t.Errorf("timing %+v", r.Timing)
	}
}

func TestOptionsThatCannotBe(t *testing.T) {
	for name, o := range map[string]Options{
		"two cranks":     {Roles: map[string]Role{"A": Crank, "B": Crank}},
		"no such role":   {Roles: map[string]Role{"A": "coil"}},
		"cylinders":      {Cylinders: -1},
		"many cylinders": {Cylinders: 100},
		"card disagrees": {Card: card(), Cylinders: 6},
		"order":          {Commanded: []Command{{Speed: 2000, Advance: 10}, {Speed: 1000, Advance: 12}}},
		"limit":          {MarkLimit: -1},
		"tolerance":      {Tolerance: quantity.Crank(math.NaN())},
	} {
		if r, err := Run(context.Background(), Events{}, o); err == nil || r != nil {
			t.Errorf("%s: accepted", name)
		} else if !strings.Contains(err.Error(), "–") {
			t.Errorf("%s: %v does not say where, what and remedy", name, err)
		}
	}
}

type failing struct {
	Events
	err error
}

func (f failing) Scan(ctx context.Context, sink waveform.Sink) (*waveform.Result, error) {
	res, _ := f.Events.Scan(ctx, sink)
	return res, f.err
}

func TestPartialIsLabelled(t *testing.T) {
	edges := running().run()
	broken := errors.New("record.vcd:12 – nonsense – export it again")
	r, err := Run(context.Background(), failing{Events{Info: info(fourNames...), Edges: edges, End: edges[len(edges)-1].At}, broken}, Options{})
	if !errors.Is(err, broken) || r == nil || !strings.Contains(r.Partial, "record.vcd:12") || r.Sync != SyncHeld {
		t.Errorf("result %+v, error %v", r, err)
	}
	ctx, stop := context.WithCancel(context.Background())
	stop()
	if _, err := Run(ctx, Events{Info: info(fourNames...), Edges: edges}, Options{}); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled: %v", err)
	}
}

func TestTimeThatRunsBackwards(t *testing.T) {
	edges := running().run()
	for i := 2000; i < 2040; i++ {
		edges[i].At -= 0.5
	}
	r := analyse(t, edges, fourNames, Options{})
	said := false
	for _, d := range r.Doubts {
		said = said || strings.Contains(d, "40 edges go back in time")
	}
	if !said {
		t.Errorf("doubts %q", r.Doubts)
	}
}

// The cam's rising edge falls exactly on a rising crank edge (99 − 80 and 49 − 30 are both 19° BTDC), on the starter:
// by it 7, 8 or 9 crank pulses are counted as the play of the drive has it, by its falling edge 8 each time. Invented.
func TestCamEdgeOnACrankEdge(t *testing.T) {
	for seed := range uint64(6) {
		d, deg, _ := legs(170, point{170, 4})
		s := eight(d, 0.2, deg-0.2)
		s.seed, s.jitter, s.camAt = seed, 0.4, 99
		for _, opt := range []Options{{Card: card()}, {Cylinders: 8}} {
			r := analyse(t, s.run(), []string{"A", "B", "C", "D"}, opt)
			for i, want := range []Role{Crank, Cam, Spark, Mark} {
				if got := r.Channels[i].Role; got != want {
					t.Errorf("seed %d, card %v: %s is %s (%s), want %s", seed, opt.Card != nil, r.Channels[i].Name, got, r.Channels[i].Reason, want)
				}
			}
		}
	}
}
