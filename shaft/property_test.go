package shaft

import (
	"bytes"
	"context"
	"encoding/json"
	"math"
	"math/rand/v2"
	"runtime"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"phasewright/jobcard"
	"phasewright/quantity"
	"phasewright/waveform"
)

// anyEngine is an engine of the trade with its signals: one to sixteen cylinders, even or odd-fire, any vane that fits,
// either polarity, any lead that the controller can use. All figures in it are invented.
type anyEngine struct {
	cylinders      int
	shift          float64 // odd-fire: share by which every other firing interval is longer; 0: even
	lead           float64 // share of the shortest interval, of 100° at most
	advance        float64 // share of the lead
	offset         float64 // degrees, what the housing is off
	vane           float64 // share of the shortest interval
	start          float64 // crank degrees at which the recording starts
	entering       bool    // the active edge is the vane entering
	highInVane     bool
	camHigh        bool
	jitter         float64 // degrees
	pickup, sparks float64 // delays, µs
}

func drawEngine(t *rapid.T) anyEngine {
	e := anyEngine{cylinders: rapid.IntRange(1, 16).Draw(t, "cylinders")}
	if e.cylinders%2 == 0 && rapid.Bool().Draw(t, "odd-fire") {
		e.shift = rapid.Float64Range(0.1, 0.3).Draw(t, "shift")
	}
	e.lead = rapid.Float64Range(0.35, 0.75).Draw(t, "lead")
	e.advance = rapid.Float64Range(0.05, 0.5).Draw(t, "advance")
	e.offset = rapid.Float64Range(-2, 2).Draw(t, "offset")
	e.vane = rapid.Float64Range(0.2, 0.6).Draw(t, "vane")
	e.start = rapid.Float64Range(0, 720).Draw(t, "start")
	e.entering, e.highInVane = rapid.Bool().Draw(t, "entering"), rapid.Bool().Draw(t, "high in vane")
	e.camHigh = rapid.Bool().Draw(t, "cam high")
	e.jitter = rapid.Float64Range(0, 0.05).Draw(t, "jitter")
	e.pickup = rapid.Float64Range(0, 100).Draw(t, "pickup delay")
	e.sparks = rapid.Float64Range(0, 150).Draw(t, "spark delay")
	return e
}

func TestAnyEngineComesBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) { drawEngine(t).comesBack(t) })
}

// Every other interval is 1.28 times the one before it, which no steady shaft of even firing does. The ends of the
// spark's pulse could not be told apart by the few intervals that still looked steady, and the wrong one was timed.
func TestOddFireFarApartComesBack(t *testing.T) {
	anyEngine{cylinders: 8, shift: 0.1171875, lead: 0.75, advance: 0.25, offset: 1, vane: 0.6, start: 1,
		jitter: 0.001953125, pickup: 1, sparks: 1}.comesBack(t)
}

// A mark whose edge falls on another channel's is metal all the same, and no crosstalk: sparks that jump at TDC, and
// vanes that leave the pickup there.
func TestMarkBesideOtherEdgesComesBack(t *testing.T) {
	t.Run("spark at TDC", func(t *testing.T) {
		anyEngine{cylinders: 4, shift: 0.3, lead: 0.35, advance: 0.0625, offset: -1.5, vane: 0.6, start: 1,
			jitter: 0.05, pickup: 1, sparks: 128}.comesBack(t)
	})
	t.Run("vane leaves at TDC", func(t *testing.T) {
		anyEngine{cylinders: 4, shift: 0.1953125, lead: 0.640625, advance: 0.5, offset: 0.25, vane: 0.443359375,
			entering: true, jitter: 0.05, pickup: 1, sparks: 1}.comesBack(t)
	})
	steady, far, _ := legs(2000, point{2000, 3})
	faster, farther, _ := legs(1000, point{3000, 3})
	for name, at := range map[string]struct {
		cylinders int
		*synth
	}{
		"four cylinders at one speed":            {4, eight(steady, 0, far+1)}, // a mark at its start and just before its end
		"two cylinders while the shaft quickens": {2, eight(faster, 0, farther)},
	} {
		t.Run(name, func(t *testing.T) {
			n, s := at.cylinders, at.synth
			s.intervals, s.widths = evenIntervals(n), repeat(s.lead, n)
			r := analyse(t, s.run(), fourNames, Options{Roles: map[string]Role{"A": Crank, "B": Cam}})
			if len(r.Findings) > 0 || r.Channels[chMark].Role != Mark {
				t.Errorf("the mark is %s (%s), findings %v", r.Channels[chMark].Role, r.Channels[chMark].Reason,
					r.Findings)
			}
		})
	}
}

// comesBack simulates the engine and fails t where the analysis does not find what was put in.
func (e anyEngine) comesBack(t interface {
	Fatal(...any)
	Fatalf(string, ...any)
}) {
	n, b := e.cylinders, e.offset
	intervals := evenIntervals(n)
	odd := e.shift > 0
	shift := math.Round(e.shift * intervals[0])
	for i := range intervals {
		intervals[i] += shift * float64(1-2*(i%2))
	}
	least := slices.Min(intervals)
	lead := e.lead * math.Min(least, 100)
	advance := e.advance * lead
	width := e.vane * least
	d, deg, _ := legs(700, point{700, 1.5}, point{4500, 3}, point{4500, 0.5}, point{900, 3})
	s := eight(d, e.start, deg-0.5)
	s.intervals, s.widths, s.lead, s.leadSet = intervals, repeat(width, n), lead+b, lead
	s.enter, s.highInVane = e.entering, e.highInVane
	s.advance = func(float64) float64 { return advance }
	// The cam edge stands well clear of the active edges: in the middle before cylinder 1's.
	s.camAt, s.camHigh = lead+0.45*intervals[n-1], e.camHigh
	s.camWidth = math.Min(80, 0.9*least)
	s.dwell = math.Min(2e-3, 0.5*least/(6*4600))
	s.jitter, s.pickup, s.delay = e.jitter, e.pickup, e.sparks
	c := card()
	c.Engine.Cylinders, c.Engine.FiringOrder, c.Engine.Intervals = n, nil, nil
	for i, v := range intervals {
		c.Engine.FiringOrder = append(c.Engine.FiringOrder, i+1)
		c.Engine.Intervals = append(c.Engine.Intervals, quantity.Crank(v))
	}
	level := map[bool]jobcard.Level{true: jobcard.High, false: jobcard.Low}
	edge := map[bool]jobcard.Edge{true: jobcard.Rising, false: jobcard.Falling}
	c.Signals.Crank = jobcard.CrankPickup{VaneWidth: quantity.Shaft(width / 2), InVane: level[s.highInVane], ActiveEdge: edge[s.enter == s.highInVane], Lead: quantity.Crank(lead)}
	c.Signals.Cam = jobcard.CamPickup{Fitted: true, VaneWidth: quantity.Shaft(s.camWidth / 2), InVane: level[s.camHigh], ActiveEdge: edge[s.camHigh], EdgeAt: quantity.Crank(s.camAt)}
	c.Controller.Advance.Locked = jobcard.Set(quantity.Crank(advance))
	opt := Options{Card: c}
	if n <= 2 { // as many vanes as cam or mark pulses: counts alone cannot tell
		opt.Roles = map[string]Role{"A": Crank, "B": Cam, "D": Mark}
	}
	in := info(fourNames...)
	edges := s.run()
	r, err := Run(context.Background(), Events{Info: in, Edges: edges, End: edges[len(edges)-1].At}, opt)
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range []Role{Crank, Cam, Spark, Mark} {
		if r.Channels[i].Role != want {
			t.Fatalf("channel %d is %s (%s), want %s", i, r.Channels[i].Role, r.Channels[i].Reason, want)
		}
	}
	if len(r.Anomalies) > 0 || r.Sync != SyncHeld || len(r.Findings) > 0 {
		t.Fatalf("sync %s, anomalies %v, findings %v", r.Sync, r.Anomalies, r.Findings)
	}
	if r.Crank.EdgesPerCycle != n || r.Crank.Uneven != (odd && r.Crank.Uneven) {
		t.Fatalf("vanes %d, uneven %v", r.Crank.EdgesPerCycle, r.Crank.Uneven)
	}
	if got := float64(r.Crank.VaneWidthDeg); n >= 3 && math.Abs(got-width/2) > 0.1 { // shaft degrees
		t.Fatalf("vane width %v° of shaft, put in %v", got, width/2)
	}
	if r.Timing == nil {
		t.Fatalf("no timing; findings %+v doubts %v", r.Findings, r.Doubts)
	}
	slack := 1.0
	if n < 3 { // one or two edges a cycle know little of the motion between them: the drive's abrupt changes of acceleration bend it
		slack = 12 / float64(n*n)
	}
	if got := r.Timing.Offset.Value; math.Abs(got-b) > slack*0.05 {
		t.Fatalf("offset %v, put in %v", got, b)
	}
	if got, want := r.Timing.Delay.Value, s.pickup+s.delay-s.allowance; math.Abs(got-want) > slack*2 {
		t.Fatalf("delay left over %v µs, put in %v", got, want)
	}
	for k, v := range r.Crank.SpacingErrorDeg {
		if math.Abs(v) > 0.02 && !(n < 3) {
			t.Fatalf("vane %d said to stand %v° off", k+1, v)
		}
	}
}

func TestJSONKeys(t *testing.T) {
	r := analyse(t, running().run(), fourNames, Options{Card: card()})
	data, err := json.Marshal(r)
	if err != nil {
		t.Fatal(err)
	}
	var m map[string]any
	if err := json.Unmarshal(data, &m); err != nil {
		t.Fatal(err)
	}
	// The keys that others rely on.
	for path, keys := range map[string][]string{
		"":                     {"duration_s", "channels", "speed_rpm", "sync", "anomalies", "crank", "spark", "timing"},
		"channels.0":           {"name", "role", "edges", "low_v", "high_v", "noise_v"},
		"speed_rpm":            {"min", "mean", "max"},
		"crank":                {"edges_per_cycle", "vane_width_deg", "spacing_error_deg"},
		"spark":                {"count", "dwell_ms", "after_edge_deg", "by_cylinder"},
		"spark.after_edge_deg": {"mean", "sd"},
		"timing":               {"offset_deg", "delay_us", "allowance_us", "housing", "outliers", "residual_sd_deg", "verdict", "next_reading_rpm", "error_at"},
		"timing.offset_deg":    {"value", "u", "lo", "hi"},
		"timing.delay_us":      {"value", "u", "lo", "hi"},
		"timing.allowance_us":  {"now", "set"},
		"timing.housing":       {"turn_deg", "direction"},
		"timing.error_at.0":    {"rpm", "value", "U"},
	} {
		at := any(m)
		for _, step := range splitPath(path) {
			switch v := at.(type) {
			case map[string]any:
				at = v[step]
			case []any:
				at = v[0]
			}
		}
		o, ok := at.(map[string]any)
		if !ok {
			t.Errorf("%q is no object", path)
			continue
		}
		for _, k := range keys {
			if _, ok := o[k]; !ok {
				t.Errorf("%q lacks %q", path, k)
			}
		}
	}
	s := running()
	edges := s.run()
	i, j := pulseAt(edges, chCrank, waveform.Fall, 2)
	r = analyse(t, without(edges, func(k int, _ waveform.Edge) bool { return k == i || k == j }), fourNames, Options{})
	data, _ = json.Marshal(r.Anomalies)
	if !bytes.Contains(data, []byte(`"kind":"missing_pulse"`)) || !bytes.Contains(data, []byte(`"time_s":`)) || !bytes.Contains(data, []byte(`"channel":"A"`)) {
		t.Errorf("anomalies %s", data)
	}
}

func splitPath(p string) []string {
	if p == "" {
		return nil
	}
	var out []string
	for _, s := range bytes.Split([]byte(p), []byte(".")) {
		out = append(out, string(s))
	}
	return out
}

func TestSameInputSameResult(t *testing.T) {
	edges := running().run()
	a, b := analyse(t, edges, fourNames, Options{Card: card()}), analyse(t, edges, fourNames, Options{Card: card()})
	x, _ := json.Marshal(a)
	y, _ := json.Marshal(b)
	if !bytes.Equal(x, y) {
		t.Error("two runs differ")
	}
}

// Batches of any size give the same result.
func TestBatchesDoNotMatter(t *testing.T) {
	edges := running().run()
	want, _ := json.Marshal(analyse(t, edges, fourNames, Options{}))
	a, err := New(Options{})
	if err != nil {
		t.Fatal(err)
	}
	in := info(fourNames...)
	in.Start = edges[0].At
	if err := a.Begin(in); err != nil {
		t.Fatal(err)
	}
	rng := rand.New(rand.NewPCG(3, 4))
	for rest := edges; len(rest) > 0; {
		n := min(len(rest), 1+rng.IntN(50))
		if err := a.Edges(rest[:n]); err != nil {
			t.Fatal(err)
		}
		rest = rest[n:]
	}
	got, _ := json.Marshal(a.Result(&waveform.Result{Info: in, End: edges[len(edges)-1].At}))
	if !bytes.Equal(got, want) {
		t.Error("result depends on batches")
	}
}

// A recording thirty times as long must not need more memory: what is kept is bounded.
func TestMemoryDoesNotGrow(t *testing.T) {
	if testing.Short() {
		t.Skip("memory not measured in short mode")
	}
	held := func(times int) uint64 {
		l := loop(0.05)
		l.times = times
		a, err := New(Options{Cylinders: 8, Commanded: locked(9)})
		if err != nil {
			t.Fatal(err)
		}
		var before, after runtime.MemStats
		runtime.GC()
		runtime.ReadMemStats(&before)
		res, err := l.Scan(context.Background(), a)
		if err != nil {
			t.Fatal(err)
		}
		runtime.GC()
		runtime.ReadMemStats(&after)
		runtime.KeepAlive(a)
		_ = a.Result(res)
		return after.HeapAlloc - min(before.HeapAlloc, after.HeapAlloc)
	}
	short, long := held(15), held(300)
	t.Logf("held after %d and %d edges: %d kB and %d kB", 15*len(loop(0).edges), 300*len(loop(0).edges), short/1024, long/1024)
	if long > short+512<<10 || long > 16<<20 {
		t.Errorf("state grew from %d to %d bytes", short, long)
	}
}

func TestFiringsJoin(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := rapid.SliceOfN(rapid.Float64Range(-1e3, 1e3), 2, 40).Draw(t, "v")
		cut := rapid.IntRange(0, len(v)).Draw(t, "cut")
		var a, b, all speedFirings
		for i, x := range v {
			one := speedFirings{rpm: x, lo: x, hi: x}
			one.after.Add(x)
			all.join(&one)
			if i < cut {
				a.join(&one)
			} else {
				b.join(&one)
			}
		}
		a.join(&b)
		if a.after.N != all.after.N || math.Abs(a.after.Mean()-all.after.Mean()) > 1e-9 || math.Abs(a.after.SD()-all.after.SD()) > 1e-9 ||
			math.Abs(a.rpm-all.rpm) > 1e-9 || a.lo != all.lo || a.hi != all.hi {
			t.Fatalf("%+v %+v", a, all)
		}
	})
}
