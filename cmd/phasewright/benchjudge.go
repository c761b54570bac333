package main

import (
	"fmt"
	"io"
	"strings"

	"phasewright/trial"
)

// worstFaults is how many rows of faults are printed.
const worstFaults = 8

// judgedWrong is one engine that was judged wrongly.
type judgedWrong struct {
	Seed     uint64   `json:"engine"`
	Evidence string   `json:"evidence"`
	Faults   []string `json:"faults"`
	False    []string `json:"false_clauses"`
	What     string   `json:"what"`
}

// wrongs lists the engines that were judged wrongly.
func wrongs(rows []trial.Scored) []judgedWrong {
	out := []judgedWrong{}
	for _, r := range rows {
		add := func(what string) {
			out = append(out, judgedWrong{r.Seed, string(r.Kind), append([]string{}, r.Faults...),
				append([]string{}, r.Broken...), what})
		}
		if r.FalsePass {
			add("false pass")
		}
		if r.WrongCure != "" {
			add("wrong cure: " + r.WrongCure)
		}
		if r.Disagree != "" {
			add("surfaces disagree: " + r.Disagree)
		}
	}
	return out
}

// judgeReport is what bench judge --json prints.
type judgeReport struct {
	Holds bool          `json:"holds"` // all that is wanted of the judge
	Seed  uint64        `json:"seed"`
	Tally trial.Tally   `json:"tally"`
	Wrong []judgedWrong `json:"wrong"`
}

func judgeJSON(t trial.Tally, rows []trial.Scored, seed uint64) judgeReport {
	return judgeReport{t.Holds(), seed, t, wrongs(rows)}
}

func writeJudge(w io.Writer, t trial.Tally, rows []trial.Scored, seed uint64) error {
	var b strings.Builder
	fmt.Fprintf(&b, "JUDGE  %d random engines with no, one or two faults, seed %d, judged by their true errors\n\n",
		t.All.Engines, seed)
	head := func(what string) {
		fmt.Fprintf(&b, "  %-24s %8s %7s %7s %11s %14s %11s\n", what, "engines", "sound", "passed", "false pass",
			"cured / could", "wrong cure")
	}
	row := func(c trial.Count) {
		fmt.Fprintf(&b, "  %-24s %8d %7d %7d %11d %14s %11d\n", c.Name, c.Engines, c.Sound, c.Passed, c.FalsePass,
			fmt.Sprintf("%d / %d", c.CuredRight, c.Curable), c.WrongCure)
	}
	head("what was seen")
	for _, c := range t.ByKind {
		row(c)
	}
	row(t.All)
	b.WriteString("\n")
	head("fault (the worst first)")
	for _, c := range t.ByFault[:worstFaults] {
		row(c)
	}
	fmt.Fprintf(&b, "\n  %-52s %8s   %s\n", "", "measured", "wanted")
	percent := func(part, whole int) string { return num(100*trial.Share(part, whole), 2) + " %" }
	for _, f := range [][3]string{
		{"pass, though a clause is false", percent(t.All.FalsePass, t.All.Engines), "at most 0.2 %"},
		{"a cure that is wrong or hides another fault", percent(t.All.WrongCure, t.All.Engines), "at most 0.5 %"},
		{"sound engine, everything seen, that passes", percent(t.FullPassed, t.FullSound), "at least 99 %"},
		{"surfaces that disagree", fmt.Sprint(t.All.Disagree), "0"},
	} {
		fmt.Fprintf(&b, "  %-52s %8s   %s\n", f[0], f[1], f[2])
	}
	b.WriteString("\n  Assumed: every fault as often as the next, sizes from hardly noticed to gross; a quarter of " +
		"the engines without,\n  a quarter with two; each kind of evidence a quarter; of the observations six in ten " +
		"made.\n")
	_, err := io.WriteString(w, b.String())
	return err
}
