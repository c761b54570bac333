package verdict

import (
	"math"
	"os"
	"slices"
	"strings"
	"testing"

	"phasewright/jobcard"
	"phasewright/quantity"
	"phasewright/readings"
	"phasewright/shaft"
)

// Cards, recordings and figures here are invented.

// card is the pump's, with the zero mark proven and the light checked: four cylinders, vanes of 12°, 15 teeth.
func card(t testing.TB) *jobcard.Card { return cardWith(t, "") }

// proven is the same with the zero mark proven on the card.
func proven(t testing.TB) *jobcard.Card { return cardWith(t, ", zero_mark: 0.2 deg") }

func cardWith(t testing.TB, damper string) *jobcard.Card {
	t.Helper()
	data, err := os.ReadFile("../examples/mill-pump.yaml")
	if err != nil {
		t.Fatal(err)
	}
	const diameter = "diameter: 149 mm ± 0.3 mm"
	data = []byte(strings.Replace(string(data), diameter, diameter+damper, 1))
	c, wrong := jobcard.Parse("mill-pump.yaml", data)
	if c == nil {
		t.Fatal(wrong)
	}
	c.Tolerance, c.Damper.ZeroMark, c.Light.Checked = 1, 0.2, "yes"
	c.Engine.IdleSpeed, c.Engine.Redline = 800, 5000
	c.Signals.Crank.Vanes = []quantity.Shaft{12, 12, 12, 12}
	c.Distributor.GearTeeth = 15
	return c
}

// sound is a recording in which all is as it should be.
func sound() *shaft.Result {
	t := &shaft.Timing{Commanded: true, Tolerance: 1, FromRPM: 800, ToRPM: 5000, ClaimFrom: 800, ClaimTo: 5000, Verdict: readings.Pass,
		Offset: readings.Interval{Value: 0.1, U: 0.1, Lo: -0.1, Hi: 0.3}, BendDeg: nan,
		ErrorAt: []readings.ErrorAt{{RPM: 800, Value: 0.1, U: 0.2}, {RPM: 5000, Value: -0.2, U: 0.2}}}
	for i := range 4 {
		t.Cylinders = append(t.Cylinders, struct {
			Cylinder int     `json:"cylinder"`
			Value    float64 `json:"error_deg"`
			U        Number  `json:"U_deg"`
		}{i + 1, 0.1, 0.2})
	}
	r := &shaft.Result{Sync: shaft.SyncHeld, Crank: &shaft.CrankResult{EdgesPerCycle: 4}, Speed: &shaft.Speeds{Min: 700, Mean: 2500, Max: 5000},
		Spark: &shaft.SparkResult{Count: 1000}, Timing: t, Stated: []shaft.Compared{{What: "dwell", Unit: "ms", Measured: 3.2, Stated: 3.2, Agrees: true}}}
	for _, role := range []shaft.Role{shaft.Crank, shaft.Cam, shaft.Spark, shaft.Mark} {
		r.Channels = append(r.Channels, shaft.Channel{Name: string(role), Role: role, Edges: 6000})
	}
	return r
}

// Every fault leaves the clause that it breaks, never says pass, and turns no housing for what a turn would hide.
func TestCaptureClauses(t *testing.T) {
	find := func(id string) func(r *shaft.Result) {
		return func(r *shaft.Result) {
			r.Findings = append(r.Findings, shaft.Finding{ID: id, Text: "found " + id, Remedy: "cure " + id})
		}
	}
	constant := func(b float64) func(r *shaft.Result) {
		return func(r *shaft.Result) {
			r.Timing.Offset = readings.Interval{Value: b, U: 0.1, Lo: b - 0.2, Hi: b + 0.2}
			for i := range r.Timing.ErrorAt {
				r.Timing.ErrorAt[i].Value = b
			}
			r.Timing.Housing = readings.Housing{TurnDeg: math.Abs(b) / 2, Direction: readings.WithRotor}
		}
	}
	for _, c := range []struct {
		name    string
		spoil   func(r *shaft.Result)
		verdict readings.Verdict
		clause  ID
		state   State
		cures   bool
	}{
		{"sound", func(*shaft.Result) {}, readings.Pass, Timing, Shown, false},
		{"housing off by 1.5°", constant(3), readings.Adjust, Timing, Broken, true},
		{"wrong edge: a vane's width, 24° of crank", constant(24.3), readings.LookElsewhere, Timing, Broken, false},
		{"a tooth of 15: 48°", constant(-48.2), readings.LookElsewhere, Timing, Broken, false},
		{"a tower: 180°", constant(180.1), readings.LookElsewhere, Timing, Broken, false},
		{"more than phasing leaves", constant(7), readings.LookElsewhere, Timing, Broken, false},
		{"one vane bent", find(shaft.FoundVaneBent), readings.LookElsewhere, EveryCylinder, Broken, false},
		{"bushing", find(shaft.FoundWobble), readings.LookElsewhere, EveryCylinder, Broken, false},
		{"edge named", find(shaft.FoundWrongEdge), readings.LookElsewhere, Signals, Broken, false},
		{"dwell", find(shaft.FoundDwell), readings.LookElsewhere, Spark, Broken, false},
		{"not locked", find(shaft.FoundNotLocked), readings.NotALine, Locked, Broken, false},
		{"sync lost", func(r *shaft.Result) { r.Sync, r.LossCount = shaft.SyncLost, 3 }, readings.LookElsewhere, Signals, Broken, false},
		{"noise", func(r *shaft.Result) { r.AnomalyCount = map[string]int64{"extra_pulse": 40} }, readings.LookElsewhere, Signals, Broken, false},
		{"one cylinder 3° late", func(r *shaft.Result) { r.Timing.Cylinders[2].Value = -3 }, readings.LookElsewhere, EveryCylinder, Broken, false},
		{"single sparks scatter by more than half the tolerance", func(r *shaft.Result) { r.Spark.ScatterSD = 0.6 }, readings.LookElsewhere, EveryCylinder, Broken, false},
		{"by nearly half of it", func(r *shaft.Result) { r.Spark.ScatterSD = 0.45 }, readings.Pass, EveryCylinder, Open, false},
		{"few pulses", func(r *shaft.Result) { r.Channels[0].Edges = 900 }, readings.Pass, Signals, Open, false},
		{"idle alone", func(r *shaft.Result) { r.Timing.ToRPM = 1500 }, readings.ReadMore, Timing, Open, false},
		{"cut off", func(r *shaft.Result) { r.Partial = "it ends too soon" }, readings.Pass, Signals, Open, false},
		{"no crank signal", func(r *shaft.Result) { r.Crank, r.Timing, r.Spark = nil, nil, nil; find(shaft.FoundNoCrank)(r) }, readings.ReadMore, Signals, Broken, false},
	} {
		r := sound()
		c.spoil(r)
		j := OfCapture(r, Evidence{Card: proven(t)})
		got := j.Clauses.Get(c.clause)
		if j.Verdict != c.verdict || got.State != c.state || (j.Cure != nil) != c.cures || j.First == "" || j.Next == "" {
			t.Errorf("%s: %s, clause %s %s, cures %v: %s – %s", c.name, j.Verdict, c.clause, got.State, j.Cure != nil, j.First, j.Next)
		}
		if j.Sound != (c.name == "sound") {
			t.Errorf("%s: sound %v", c.name, j.Sound)
		}
		if turn := j.OntoCapture(r, card(t)).Timing; turn != nil && !c.cures && turn.Housing.TurnDeg != 0 {
			t.Errorf("%s: a turn of the housing stands beside %q", c.name, j.Verdict)
		}
		if strings.Contains(strings.ToLower(j.Next), "turn the housing") != c.cures {
			t.Errorf("%s: next is %q", c.name, j.Next)
		}
	}
}

// The mark that a recording is timed by is the damper's own: while nobody has proven it, nothing is turned for.
func TestARecordingDoesNotProveItsMark(t *testing.T) {
	r := sound()
	r.Timing.Offset = readings.Interval{Value: 3, U: 0.1, Lo: 2.8, Hi: 3.2}
	for i := range r.Timing.ErrorAt {
		r.Timing.ErrorAt[i].Value = 3
	}
	r.Timing.Housing = readings.Housing{TurnDeg: 1.5, Direction: readings.WithRotor}
	if j := OfCapture(r, Evidence{Card: card(t)}); j.Cure != nil || !strings.Contains(j.Next, "piston stop") {
		t.Errorf("cure %v: %s", j.Cure, j.Next)
	}
}

// No recording shows the whole statement: the zero mark, the wires and what holds stay open.
func TestACaptureIsNeverTheWhole(t *testing.T) {
	j := OfCapture(sound(), Evidence{Card: card(t)})
	if j.Clauses.Word() != NotShownYet {
		t.Errorf("the whole statement: %s", j.Clauses.Word())
	}
	for _, id := range []ID{RightCylinder, FirstCrank, Held} {
		if c := j.Clauses.Get(id); c.State != Open || c.WouldShow == "" || c.Minutes == 0 {
			t.Errorf("%s: %+v", id, c)
		}
	}
}

func TestJoin(t *testing.T) {
	a, b := open(), open()
	a.settle(Timing, Shown, "by the light")
	b.settle(Timing, Broken, "by a recording")
	b.settle(Signals, Shown, "by a recording")
	s := Join(a, b)
	if c := s.Get(Timing); c.State != AtOdds || !strings.Contains(c.Because, "light") || !strings.Contains(c.Because, "recording") || c.WouldShow == "" {
		t.Errorf("%+v", c)
	}
	if s.Get(Signals).State != Shown || s.Get(Held).State != Open || s.Word() != NotShownYet {
		t.Errorf("%+v", s)
	}
	all := open()
	for i := range all {
		all[i].State = Shown
	}
	if all.Word() != Pass || Join(all, b).Word() != NotShownYet {
		t.Error("shown all over is no pass, or what is at odds is one")
	}
	if b.Word() != Fails || !slices.Contains(b.Titles(Broken), "timing") {
		t.Errorf("broken: %s %v", b.Word(), b.Titles(Broken))
	}
}
