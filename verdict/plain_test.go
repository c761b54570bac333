package verdict

import (
	"maps"
	"math"
	"slices"
	"testing"

	"phasewright/quantity"
	"phasewright/readings"
	"phasewright/shaft"
	"phasewright/sheet"
	"phasewright/suspects"
	"phasewright/words/plain"
)

// tally counts the words of sentences and names those that are not plain.
type tally struct {
	t                *testing.T
	sentences, total int
}

func (n *tally) check(name, text string, most int) {
	n.t.Helper()
	for _, one := range plain.Sentences(text) {
		n.sentences, n.total = n.sentences+1, n.total+plain.Words(one)
	}
	for _, long := range plain.Long(text, most) {
		n.t.Errorf("%s: %s", name, long)
	}
	for _, fault := range plain.Faults(text) {
		n.t.Errorf("%s: %s", name, fault)
	}
}

func (n *tally) judgement(name string, j Judgement) {
	n.t.Helper()
	n.check(name, j.First, plain.Longest)
	n.check(name, j.Next, plain.LongestDo)
	n.check(name, j.Headline(), plain.Longest)
	if j.Cure != nil {
		n.check(name, j.Cure.IfWrong, plain.Longest)
	}
	for _, c := range j.Clauses {
		n.check(name, c.Because, plain.Longest)
		n.check(name, c.WouldShow, plain.LongestDo)
	}
}

// What the judge says over light, recordings and observations, sound and spoilt, is plain: what is to be done in at most
// 15 words a sentence, short on average, no word in a meaning that another has. So are its tables.
func TestTextsArePlain(t *testing.T) {
	n := &tally{t: t}
	for _, c := range clauses {
		n.check("clause", c.look, plain.LongestDo)
	}
	for id, do := range remedies {
		n.check(string(id), do, plain.LongestDo)
	}
	for id, r := range rivals {
		n.check(id, r.says, plain.LongestDo)
		n.check(id, r.look, plain.LongestDo)
	}
	engine, err := suspects.New(card(t), suspects.DefaultPriors())
	if err != nil {
		t.Fatal(err)
	}
	n.judgement("nothing", Judge(Evidence{Card: card(t)}))
	for name, rows := range map[string][]looked{"sound": constantError(0), "housing": constantError(2.6), "late": constantError(-2.6),
		"more than phasing leaves": constantError(7.1), "edge": constantError(24.2), "tooth": constantError(48), "tower": constantError(180), "one": constantError(1)[:1],
		"three": constantError(1)[:3], "two sparks": constantError(12),
		"delay":            {{850, 12.3, 12}, {1700, 13, 12}, {2600, 13.9, 12}, {3500, 14.9, 12}, {4400, 15.8, 12}, {850, 12.2, 12}},
		"clamp":            {{850, 12, 12}, {1700, 11.1, 12}, {2600, 10.1, 12}, {3500, 9, 12}, {4400, 8.1, 12}, {850, 6.9, 12}},
		"follows":          {{850, 10.2, 6}, {1700, 9.9, 9}, {2600, 10.1, 12}, {3500, 10, 15}, {4400, 9.8, 18}, {850, 10.1, 12}},
		"twice the change": {{850, 24.2, 12}, {1700, 23.8, 12}, {2600, 12.1, 6}, {3500, 36.2, 18}, {4400, 23.9, 12}, {850, 12.0, 6}},
		"scatter":          {{850, 15.5, 12}, {1700, 9, 12}, {2600, 16.5, 12}, {3500, 8, 12}, {4400, 15.5, 12}, {850, 8.5, 12}, {2600, 9.5, 12}, {4400, 8.5, 12}},
		"bends":            {{850, 12, 12}, {1700, 18, 12}, {2600, 21, 12}, {3500, 18, 12}, {4400, 12, 12}, {850, 12.1, 12}, {2600, 21.1, 12}, {4400, 12.1, 12}},
	} {
		base := Evidence{Card: card(t), Engine: engine}
		set := readings.FromCard(base.Card)
		var given []readings.Row
		for _, r := range rows {
			given = append(given, readings.Row{Speed: quantity.Speed(r.rpm), Shown: quantity.Crank(r.shown), Locked: quantity.Crank(r.locked), Confirmed: true})
		}
		fit, err := readings.Fit(given, set)
		if err != nil {
			t.Fatal(err)
		}
		proof, err := readings.Prove(nil, given, set, set, readings.Simulation{Draws: 1000, Seed: 1})
		if err != nil {
			t.Fatal(err)
		}
		if base.Sheet, err = sheet.Make(base.Card); err != nil {
			t.Fatal(err)
		}
		light := Light{Rows: given, Fit: fit, Proof: proof}
		n.judgement("light: "+name, OfReadings(light, base))
		contact := &suspects.Number{Value: 60, U: 0.1}
		base.Seen = &Seen{Evidence: &suspects.Evidence{PistonStop: suspects.PistonStop{Before: contact, After: contact}}}
		n.judgement("light, proven: "+name, OfReadings(light, base))
		base.Captures = []Capture{{Result: sound()}}
		n.judgement("light and recording: "+name, OfReadings(light, base))
	}
	for name, spoil := range map[string]func(*shaft.Result){
		"sound": func(*shaft.Result) {}, "lost": func(r *shaft.Result) { r.Sync, r.LossCount = shaft.SyncLost, 3 },
		"noise":        func(r *shaft.Result) { r.AnomalyCount = map[string]int64{"extra_pulse": 40} },
		"one cylinder": func(r *shaft.Result) { r.Timing.Cylinders[2].Value = -3 },
		"scatter":      func(r *shaft.Result) { r.Spark.ScatterSD = 0.6 },
		"few":          func(r *shaft.Result) { r.Channels[0].Edges = 900 },
		"idle alone":   func(r *shaft.Result) { r.Timing.ToRPM = 1500 },
		"cut off":      func(r *shaft.Result) { r.Partial = "it ends too soon" },
		"no sync":      func(r *shaft.Result) { r.Sync, r.SyncBecause = shaft.SyncNone, "no cam signal" },
		"no timing":    func(r *shaft.Result) { r.Timing = nil },
		"no spark":     func(r *shaft.Result) { r.Spark, r.Timing = nil, nil },
		"no crank":     func(r *shaft.Result) { r.Crank, r.Timing, r.Spark = nil, nil, nil },
		"housing":      func(r *shaft.Result) { off(r, 3) }, "edge": func(r *shaft.Result) { off(r, 24.3) }, "tower": func(r *shaft.Result) { off(r, 180.1) },
		"locked":   func(r *shaft.Result) { r.Findings = []shaft.Finding{{ID: shaft.FoundNotLocked}} },
		"no line":  func(r *shaft.Result) { r.Timing.Verdict, r.Timing.BendDeg = readings.NotALine, 4 },
		"no dwell": func(r *shaft.Result) { r.Stated = nil },
	} {
		r := sound()
		spoil(r)
		n.judgement("recording: "+name, OfCapture(r, Evidence{Card: card(t), Engine: engine}))
		n.judgement("recording, proven: "+name, OfCapture(r, Evidence{Card: proven(t)}))
		first, next := withoutCard(r)
		n.check(name, first, plain.Longest)
		n.check(name, next, plain.LongestDo)
	}
	seen := map[string]func(*suspects.Evidence){
		"no compression": func(o *suspects.Evidence) { o.Compression = "not felt" }, "compression": func(o *suspects.Evidence) { o.Compression = "felt" },
		"wires": func(o *suspects.Evidence) { o.Cap.Wires = "wrong" }, "traces": func(o *suspects.Evidence) { o.Cap.Traces = "off centre" },
		"kicks": func(o *suspects.Evidence) { o.Engine.Starting = "kicks back" }, "nothing": func(o *suspects.Evidence) { o.Engine.Starting, o.Spark = "nothing", "none" },
		"misfires": func(o *suspects.Evidence) { o.Engine.Misfire = []int{2} }, "sync": func(o *suspects.Evidence) { o.Capture.Sync = "lost" },
		"revs": func(o *suspects.Evidence) { o.Engine.Running = "will not rev" }, "fine": func(o *suspects.Evidence) { o.Engine.Running = "fine" },
		"on": func(o *suspects.Evidence) { o.Settings.Lock = "on" }, "off": func(o *suspects.Evidence) { o.Settings.Lock = "off" },
		"stop": func(o *suspects.Evidence) {
			o.PistonStop = suspects.PistonStop{Before: &suspects.Number{Value: 62, U: 2}, After: &suspects.Number{Value: 60, U: 2}}
		},
	}
	for _, name := range slices.Sorted(maps.Keys(seen)) {
		var o suspects.Evidence
		seen[name](&o)
		n.judgement("seen: "+name, Judge(Evidence{Card: card(t), Engine: engine, Seen: &Seen{Evidence: &o}}))
	}
	if mean := float64(n.total) / float64(n.sentences); mean > plain.Average || n.sentences < 500 {
		t.Errorf("%d sentences of %.1f words on average, more than %d", n.sentences, mean, plain.Average)
	} else {
		t.Logf("%d sentences of %.1f words on average", n.sentences, mean)
	}
}

// off moves all sparks of a recording.
func off(r *shaft.Result, by float64) {
	r.Timing.Offset = readings.Interval{Value: by, U: 0.1, Lo: by - 0.2, Hi: by + 0.2}
	for i := range r.Timing.ErrorAt {
		r.Timing.ErrorAt[i].Value = by
	}
	r.Timing.Housing = readings.Housing{TurnDeg: math.Abs(by) / 2, Direction: readings.WithRotor}
}
