package trial

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"strings"

	"phasewright/suspects"
	"phasewright/verdict"
)

// Kind is how much a technician looked at before he asked.
type Kind string

// The kinds of evidence.
const (
	LightOnly   Kind = "light only"
	Recorded    Kind = "light and a recording"
	Observed    Kind = "light and observations"
	Full        Kind = "everything"
	observation      = 0.6 // share of the looks that Observed has made
	withRecord       = 0.3 // share of Observed that brings a recording too
)

// Kinds lists them with the share of jobs that each has; assumed.
func Kinds() []struct {
	Kind  Kind
	Share float64
} {
	return []struct {
		Kind  Kind
		Share float64
	}{{LightOnly, 0.25}, {Recorded, 0.25}, {Observed, 0.25}, {Full, 0.25}}
}

// evidence is what a technician of a kind lays before the judge.
func (j *job) evidence(ctx context.Context, kind Kind) (verdict.Evidence, error) {
	d := roll(j.seed, 0xe1e5)
	e := verdict.Evidence{Card: j.card, Sheet: j.sheet}
	starting := j.starts(d)
	starts := starting == "starts" && j.runs(d) != "does not run"
	var err error
	if e.Light, err = j.light(starts, d); err != nil {
		return e, err
	}
	if kind == Recorded || kind == Full || kind == Observed && d.one(withRecord) {
		r, err := j.record(ctx, starts)
		if err != nil {
			return e, err
		}
		e.Captures = append(e.Captures, verdict.Capture{Name: "run", Result: r})
	}
	if kind == Observed || kind == Full {
		seen := &suspects.Evidence{}
		for _, l := range allLooks {
			if kind == Full || d.one(observation) {
				j.see(seen, l.look, kind == Full, d)
			}
		}
		if seen.Engine.Starting != "" { // he saw it once
			seen.Engine.Starting = starting
			if starting != "starts" {
				seen.Engine.Running, seen.Engine.Misfire, seen.Engine.NoMisfire = "", nil, false
			}
		}
		e.Seen = &verdict.Seen{Evidence: seen}
	}
	return e, nil
}

// Scored is how the judge came out on one job.
type Scored struct {
	Seed   uint64
	Faults []string
	Kind   Kind

	Sound     bool         // no clause is false in truth
	Broken    []string     // clauses that are
	Word      verdict.Word // the judge's
	FalsePass bool         // pass, though a clause is false
	// Advised and WrongCure: a turn or an allowance was advised, and why it is wrong; "" for a right one.
	Advised   bool
	Curable   bool // the timing is out, and every fault is one that housing and allowance take away
	WrongCure string
	Disagree  string // surfaces that do not say the same; "" where all do
	Open      []string
	First     string
	Next      string
}

// score judges a job and holds the judgement against the truth.
func (j *job) score(ctx context.Context, kind Kind) (Scored, error) {
	s := Scored{Seed: j.seed, Faults: j.faults, Kind: kind, Sound: len(j.truth.broken) == 0, Broken: j.truth.broken}
	e, err := j.evidence(ctx, kind)
	if err != nil {
		return s, fmt.Errorf("engine %d: %w", j.seed, err)
	}
	says := verdict.Judge(e)
	s.Word, s.First, s.Next = says.Word, says.First, says.Next
	s.FalsePass = says.Word == verdict.Pass && !s.Sound
	for _, c := range says.Clauses {
		if c.State != verdict.Shown {
			s.Open = append(s.Open, string(c.ID)+" "+string(c.State))
		}
	}
	s.Curable = len(j.faults) > 0 && j.truth.is(verdict.Timing) && !slices.ContainsFunc(j.faults, func(f string) bool {
		return !slices.Contains(curable, f)
	})
	if s.Advised = says.Cure != nil; s.Advised {
		s.WrongCure = j.wrong(j.f, says.Cure)
	}
	s.Disagree = disagree(e, says)
	return s, nil
}

// disagree compares the surfaces that judge the same evidence: text and JSON of one judgement, the word on the readings
// and on each recording by themselves, and what fit and capture then print. None may advise a turn that the judge,
// given the same evidence, does not.
func disagree(e verdict.Evidence, all verdict.Judgement) string {
	var text bytes.Buffer
	if err := all.Write(&text); err != nil {
		return err.Error()
	}
	data, err := json.Marshal(all)
	if err != nil {
		return err.Error()
	}
	var back verdict.Judgement
	if err := json.Unmarshal(data, &back); err != nil {
		return err.Error()
	}
	switch {
	case !strings.Contains(text.String(), string(all.Verdict)+": "+all.First) ||
		!strings.Contains(text.String(), all.Next):
		return "the text has not the judge's words"
	case back.First != all.First || back.Next != all.Next || back.Word != all.Word ||
		(back.Cure == nil) != (all.Cure == nil):
		return "the JSON has not the judge's words"
	case all.Cure == nil && strings.Contains(all.Next, "turn the housing"):
		return "a turn stands in the words without a cure"
	}
	base := verdict.Evidence{Card: e.Card, Sheet: e.Sheet}
	if e.Light != nil {
		alone := base
		alone.Light = e.Light
		says, one := verdict.Judge(alone), verdict.OfReadings(*e.Light, base)
		shown := one.OntoReadings(e.Light.Fit)
		if turns := shown.Housing.TurnDeg != 0 || shown.Allowance.Changes(); turns && says.Cure == nil ||
			shown.Verdict != says.Verdict || one.First != says.First {
			return "fit and the judge differ on the same readings"
		}
	}
	for _, c := range e.Captures {
		alone := base
		alone.Captures = []verdict.Capture{c}
		says, one := verdict.Judge(alone), verdict.OfCapture(c.Result, base)
		if t := one.OntoCapture(c.Result, e.Card).Timing; t != nil {
			if turns := t.Housing.TurnDeg != 0 || t.Allowance.Changes(); turns && says.Cure == nil ||
				t.Verdict != says.Verdict {
				return "capture and the judge differ on the same recording"
			}
		}
		if one.First != says.First || one.Next != says.Next {
			return "capture and the judge differ on the same recording"
		}
	}
	return ""
}
