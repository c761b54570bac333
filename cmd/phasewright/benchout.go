package main

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"phasewright/bench"
	"phasewright/cranking"
	"phasewright/jobcard"
	"phasewright/quantity"
	"phasewright/trial"
)

// benchReport is what a run of the bench prints, as data.
type benchReport struct {
	Faults       []string        `json:"faults"`
	Profile      string          `json:"profile"`
	Wire         int             `json:"wire"`
	Behaviour    bench.Behaviour `json:"behaviour"` // at idle
	CrankLamp    [2]bench.Glow   `json:"crank_lamp"`
	CamLamp      [2]bench.Glow   `json:"cam_lamp"`
	CrankingBias *benchBias      `json:"cranking_bias_deg"` // null: the starter does not turn it
	At           []benchAt       `json:"at"`
	Run          benchRunCounts  `json:"run"`
	ByCylinder   []benchCylinder `json:"by_cylinder"`
}

type benchBias struct {
	Value float64 `json:"value"`
	Half  float64 `json:"half"`
}

type benchAt struct {
	RPM       float64         `json:"rpm"`
	Cranking  bool            `json:"cranking"`
	ShownDeg  *float64        `json:"shown_deg"` // null: the light stays dark
	FlashSD   float64         `json:"flash_sd_deg"`
	Wild      float64         `json:"wild_share"`
	TruthDeg  float64         `json:"true_deg"`
	Behaviour bench.Behaviour `json:"behaviour"`
}

type benchRunCounts struct {
	DurationS  float64 `json:"duration_s"`
	CrankEdges int     `json:"crank_edges"`
	CamEdges   int     `json:"cam_edges"`
	Sparks     int     `json:"sparks"`
	Flashes    int     `json:"flashes"`
	ExtraEdges int     `json:"extra_edges"`
	Late       int     `json:"late_sparks"`
	Weak       int     `json:"weak_sparks"`
	Elsewhere  int     `json:"sparks_elsewhere"`
}

type benchCylinder struct {
	Cylinder int     `json:"cylinder"`
	Sparks   int     `json:"sparks"`
	ErrorDeg float64 `json:"error_deg"`
	SD       float64 `json:"sd_deg"`
}

func newBenchReport(card *jobcard.Card, c bench.Config, f bench.Faults, text string, p bench.Profile, wire int,
	t *bench.Counts) (*benchReport, error) {
	m, err := bench.NewModel(c)
	if err != nil {
		return nil, err
	}
	idle := m.Expect(f, c.Engine.Idle, wire)
	r := &benchReport{
		Faults: f.List(), Profile: text, Wire: wire, Behaviour: idle.Behaviour,
		CrankLamp: [2]bench.Glow{idle.Crank.Before, idle.Crank.After},
		CamLamp:   [2]bench.Glow{idle.Cam.Before, idle.Cam.After},
		Run: benchRunCounts{p.Duration().Seconds(), t.CrankEdges, t.CamEdges, t.Sparks, t.Flashes, t.Extra, t.Late,
			t.Weak, t.Elsewhere},
	}
	if r.Faults == nil {
		r.Faults = []string{}
	}
	if b, err := bench.CrankingBias(c, cranking.SpreadOf(card)); err == nil {
		r.CrankingBias = &benchBias{float64(b.Mean), float64(b.Half)}
	}
	speeds := p.Speeds(c)
	slices.Sort(speeds)
	for _, n := range slices.Compact(speeds) {
		x := m.Expect(f, n, wire)
		at := benchAt{RPM: float64(n), Cranking: n < c.Controller.CrankingBelow, FlashSD: float64(x.FlashSD),
			Wild: x.Wild, TruthDeg: float64(x.Truth), Behaviour: x.Behaviour}
		if x.Flashes {
			v := float64(x.Shown)
			at.ShownDeg = &v
		}
		r.At = append(r.At, at)
	}
	for _, cyl := range c.Engine.FiringOrder {
		if k := t.ByCylinder[cyl]; k != nil {
			mean, sd := k.Error()
			r.ByCylinder = append(r.ByCylinder, benchCylinder{cyl, k.Sparks, mean, sd})
		}
	}
	return r, nil
}

func writeBench(w io.Writer, name string, r *benchReport) error {
	var b strings.Builder
	fmt.Fprintf(&b, "BENCH  %s\n", name)
	faults := "none"
	if len(r.Faults) > 0 {
		faults = strings.Join(r.Faults, ", ")
	}
	fmt.Fprintf(&b, "  faults    %s\n  speed     %s\n  engine    %s (at idle)\n", faults, r.Profile, r.Behaviour)
	fmt.Fprintf(&b, "  at rest   crank lamp %s, then %s past cylinder 1's trigger lead; cam lamp %s, then %s\n",
		r.CrankLamp[0], r.CrankLamp[1], r.CamLamp[0], r.CamLamp[1])
	if r.CrankingBias != nil {
		fmt.Fprintf(&b, "  starter   compression alone moves the light by %s° ± %s°: nothing to turn the housing for\n",
			quantity.Signed(r.CrankingBias.Value, 1), num(r.CrankingBias.Half, 1))
	}
	fmt.Fprintf(&b, "\n  LIGHT ON WIRE %d\n  speed rpm   shows °   flashes ±°     true °   engine\n", r.Wire)
	for _, x := range r.At {
		shown := "dark"
		if x.ShownDeg != nil {
			shown = num(*x.ShownDeg, 2)
		}
		note := ""
		if x.Cranking {
			note = ", on the starter"
		}
		if x.Wild > 0.005 {
			note += fmt.Sprintf(", %s %% of flashes elsewhere", num(100*x.Wild, 0))
		}
		fmt.Fprintf(&b, "  %9s  %8s  %11s  %9s   %s%s\n", num(x.RPM, 0), shown, num(x.FlashSD, 2), num(x.TruthDeg, 2),
			x.Behaviour, note)
	}
	k := r.Run
	fmt.Fprintf(&b, "\n  THE RUN  %s s: %d crank edges, %d cam edges, %d sparks, %d flashes\n", num(k.DurationS, 1),
		k.CrankEdges, k.CamEdges, k.Sparks, k.Flashes)
	for _, x := range []struct {
		n    int
		what string
	}{{k.ExtraEdges, "extra crank edges"}, {k.Late, "sparks late: the wait was too short"}, {k.Weak, "weak sparks"},
		{k.Elsewhere, "sparks far from their cylinder's compression"}} {
		if x.n > 0 {
			fmt.Fprintf(&b, "  %7d %s\n", x.n, x.what)
		}
	}
	if len(r.ByCylinder) > 0 {
		b.WriteString("  cylinder  sparks   error °      ±°   (true less commanded, over the whole run)\n")
		for _, c := range r.ByCylinder {
			fmt.Fprintf(&b, "  %8d %7d  %8s %7s\n", c.Cylinder, c.Sparks, quantity.Signed(c.ErrorDeg, 2), num(c.SD, 2))
		}
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// trialReport is what bench trial --json prints.
type trialReport struct {
	Seed        uint64            `json:"seed"`
	Technicians []trialTechnician `json:"technicians"`
	Tolerance   float64           `json:"tolerance_deg"`
}

type trialTechnician struct {
	Name      string                `json:"name"`
	Engines   int                   `json:"engines"`
	Outcomes  map[trial.Outcome]int `json:"handed_over"`
	Restarts  trialSpread           `json:"restarts"`
	Readings  trialSpread           `json:"readings"`
	HighRevs  trialSpread           `json:"high_revs_min"`
	Minutes   trialSpread           `json:"minutes"`
	Worst     *trialSpread          `json:"worst_error_deg"` // null: none was handed over as right
	Within    float64               `json:"within_share"`
	FalsePass float64               `json:"false_pass_share"`
	WrongCure float64               `json:"wrong_cure_share"`
}

type trialSpread struct {
	Mean float64 `json:"mean"`
	P95  float64 `json:"p95"` // what 95 % stay under
}

func trialJSON(rows []trial.Row, seed uint64) trialReport {
	out := trialReport{Seed: seed, Tolerance: float64(rows[0].Tolerance)}
	for _, r := range rows {
		x := trialTechnician{r.Name, r.Engines, r.Outcomes, trialSpread(r.Restarts), trialSpread(r.Readings),
			trialSpread(r.HighRevs), trialSpread(r.Minutes), nil, r.Within, r.FalsePass, r.WrongCure}
		if r.Outcomes[trial.Right] > 0 {
			x.Worst = &trialSpread{r.Worst.Mean, r.Worst.P95}
		}
		out.Technicians = append(out.Technicians, x)
	}
	return out
}

func writeTrial(w io.Writer, rows []trial.Row, seed uint64) error {
	var b strings.Builder
	fmt.Fprintf(&b, "TRIAL  %d random engines, seed %d, judged by the true timing of every cylinder from idle to "+
		"redline (mean, and what 95 %% stay under)\n\n", rows[0].Engines, seed)
	fmt.Fprintf(&b, "  %-39s %11s %11s %12s %8s %12s %14s %11s %11s\n", "", "restarts", "readings", "minutes", "right",
		"handed on", "error left °", "false pass", "wrong cure")
	cell := func(s trial.Spread95, decimals int) string {
		return num(s.Mean, decimals) + " / " + num(s.P95, decimals)
	}
	percent := func(v float64) string { return num(100*v, 1) + " %" }
	for _, r := range rows {
		out := func(o trial.Outcome) string { return percent(float64(r.Outcomes[o]) / float64(r.Engines)) }
		fmt.Fprintf(&b, "  %-39s %11s %11s %12s %8s %12s %14s %11s %11s\n", r.Name, cell(r.Restarts, 1),
			cell(r.Readings, 1), cell(r.Minutes, 1), percent(r.Within), out(trial.HandedOn), cell(r.Worst, 2),
			percent(r.FalsePass), percent(r.WrongCure))
	}
	fmt.Fprintf(&b, "\n  right: within %v on every cylinder in the end. Handed on: with what is to be mended, or "+
		"not shown right. Error left,\n  false pass: of those handed over as right. Wrong cure: a turn or a setting "+
		"that left a cylinder worse, or hid another fault.\n", quantity.Crank(rows[0].Tolerance))
	fmt.Fprintf(&b, "  Assumed: 0.5 min a reading, 2 min a restart or housing turn, 8 min a recording, 12 min "+
		"a piston stop, 1 to 5 min\n  another look; eye ± 0.3°; housing off by up to 4°, delay 20 to 260 µs; in %s %% "+
		"of the engines one of:\n  %s.\n", num(100*trial.ShareFaulty, 0), strings.Join(trial.TrialFaults, ", "))
	_, err := io.WriteString(w, b.String())
	return err
}
