package report

import (
	"encoding/json"
	"os"
	"testing"
	"time"

	"phasewright/jobcard"
	"phasewright/readings"
	"phasewright/sheet"
	"phasewright/verdict"
)

// someDay is the invented date of the job.
var someDay = time.Date(2031, 5, 4, 12, 0, 0, 0, time.UTC)

func card(t testing.TB, name string) (*jobcard.Card, *sheet.Sheet) {
	t.Helper()
	text, err := os.ReadFile("../examples/" + name + ".yaml")
	if err != nil {
		t.Fatal(err)
	}
	c, err := jobcard.Parse(name+".yaml", text)
	if err != nil {
		t.Fatal(err)
	}
	s, err := sheet.Make(c)
	if err != nil {
		t.Fatal(err)
	}
	return c, s
}

func rows(t testing.TB, name string) []readings.Row {
	t.Helper()
	f, err := os.Open("../examples/" + name + ".csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	table, err := readings.Read(f, name+".csv")
	if err != nil {
		t.Fatal(err)
	}
	return table.Rows
}

// sandpiper is the whole job, invented.
func sandpiper(t testing.TB) Case {
	t.Helper()
	c, _ := card(t, "sandpiper")
	was := readings.FromCard(c)
	now := was
	now.AllowanceNow = 180
	k := Case{Card: c, Before: rows(t, "sandpiper"), After: rows(t, "sandpiper-after"), Customer: "harbour pilots", Technician: "M. Quay",
		Corrections: []Correction{
			{When: "2031-05-04 10:12", What: "delay allowance", From: "100 µs", To: "180 µs", By: "M. Quay"},
			{When: "2031-05-04 10:20", What: "housing, with the rotor", From: "0°", To: "1.3° of the shaft", By: "M. Quay", Turn: 1.3}},
		Overrides: []Override{{"2031-05-04 09:40", "seat height, dry fit", "measured at the last overhaul, see note of 2030-11-02", "M. Quay"}},
		Evidence:  []Evidence{{"cranking.vcd", "capture", 1048576, "9f86d081884c7d659a2feaa0c55ad015a3bf4f1b2b0b822cd15d6c15b0f00a08"}},
		Chain:     Chain{41, "2c26b46b68ffc68ff99b453c1d30413413422d706483bfa0f98a5e886266e7ae"},
		Stamp:     Stamp{Date: someDay}}
	p, err := readings.Prove(k.Before, k.After, was, now, readings.Simulation{Seed: 1})
	if err != nil {
		t.Fatal(err)
	}
	k.Proof, k.Judged = p, judged(c, k.After, p)
	both := struct { // as a job's proof carries them
		*readings.Proof
		*verdict.Judgement
	}{k.Judged.OntoProof(p), k.Judged}
	if k.Stamp.JSON, err = json.Marshal(both); err != nil {
		t.Fatal(err)
	}
	return k
}

// judged is what the readings of a proof come to by themselves.
func judged(c *jobcard.Card, after []readings.Row, p *readings.Proof) *verdict.Judgement {
	j := verdict.OfReadings(verdict.Light{Rows: after, Fit: p.Is, Proof: p}, verdict.Evidence{Card: c})
	return &j
}
