package verdict

import (
	"strings"
	"testing"

	"phasewright/jobcard"
	"phasewright/quantity"
	"phasewright/readings"
)

// Two cylinders on one coil have no second wire that tells more: the judge says so and does not fall over (it did).
func TestTwoCylindersOnOneCoil(t *testing.T) {
	card, err := jobcard.Parse("twin.yaml", []byte(`
job: {name: "twin, invented"}
engine: {cylinders: 2, firing_order: [1, 2], rotation: clockwise, bore: 80 mm, stroke: 78 mm, rod: 140 mm, idle_speed: 900 rpm, redline: 5200 rpm}
damper: {diameter: 150 mm}
distributor: {use: signal only, rotation: clockwise}
signals: {crank: {vane_width: 10 deg, active_edge: falling, lead: 50 deg}}
controller: {advance: {cranking: 6 deg, locked: 10 deg, max: 30 deg}, delay_allowance: 60 us}
ignition: {coils: companion pairs, dwell: 2.5 ms}
`))
	if err != nil {
		t.Fatal(err)
	}
	var rows []readings.Row
	for _, n := range []quantity.Speed{900, 2000, 3300, 4600} {
		rows = append(rows, readings.Row{Speed: n, Shown: 10.2, Locked: 10})
	}
	set := readings.FromCard(card)
	fit, err := readings.Fit(rows, set)
	if err != nil {
		t.Fatal(err)
	}
	proof, err := readings.Prove(nil, rows, set, set, readings.Simulation{Draws: 20_000, Seed: 1})
	if err != nil {
		t.Fatal(err)
	}
	j := OfReadings(Light{Rows: rows, Fit: fit, Proof: proof}, Evidence{Card: card})
	if c := j.Clauses.Get(EveryCylinder); c.State != Open || !strings.Contains(c.WouldShow, "record all cylinders") {
		t.Errorf("%+v", c)
	}
}
