package readings_test

import (
	"math"
	"testing"

	"phasewright/jobcard"
	"phasewright/readings"
)

// sandpiper is the design's example card (invented).
const sandpiper = `
job:         {name: "Sandpiper, main engine", shop: Marlow Quay Boatyard}
engine:      {cylinders: 6, firing_order: [1, 5, 3, 6, 2, 4], rotation: clockwise, bore: 94 mm, stroke: 97 mm, rod: 158 mm,
              compression_ratio: 8.6, inertia: 0.32 kg.m2, cranking_speed: 180 rpm, idle_speed: 750 rpm, redline: 4200 rpm}
damper:      {diameter: 168 mm ± 0.3 mm, mark_placement: 0.5 mm}
distributor: {rotation: counterclockwise, gear_teeth: 12, helix_angle: 30 deg, gear_material: bronze, cam_material: billet steel,
              rotor_tip: 9 mm, terminal: 7 mm, radius: 27 mm, air_gap: 0.9 mm, tower_for_no1: 4}
signals:     {crank: {kind: hall, vane_width: 15 deg, active_edge: falling, lead: 60 deg}, cam: {kind: hall, active_edge: falling, vane_width: 40 deg}}
controller:  {advance: {cranking: 12 deg, locked: 8 deg, min: 2 deg, max: 34 deg}, delay_allowance: 85 us, delay_step: 15 us, latency: 60 us}
ignition:    {output: coil driver, dwell: 3.2 ms, supply: 13.8 V}
coil:        {resistance: 0.55 ohm, inductance: 5.2 mH, saturates_at: 8 A, target: 7 A}
tolerance:   1 deg
`

func TestSettingsFromACard(t *testing.T) {
	card, err := jobcard.Parse("sandpiper.yaml", []byte(sandpiper))
	if err != nil {
		t.Fatal(err)
	}
	set := readings.FromCard(card)
	if set.AllowanceNow != 85 || set.AllowanceOpen || set.AllowanceStep != 15 || set.Idle != 750 || set.Redline != 4200 || set.Cranking != 180 || set.Tolerance != 1 {
		t.Errorf("settings %+v", set)
	}
	if set.RotorTurns != "counterclockwise, seen from above the cap" {
		t.Errorf("rotor turns %q", set.RotorTurns)
	}
	by := map[string]readings.Common{}
	for _, c := range set.Common {
		by[c.Name] = c
	}
	// 0.5 mm along the rim of 168 mm: 360·0.5/(π·168) = 0.3410° by hand.
	near(t, "mark placement", by["mark placement"].Limit, 0.34105, 0.00001)
	if by["mark placement"].Assumed || !by["zero mark against true TDC"].Assumed || !by["tachometer"].Assumed {
		t.Errorf("what is assumed and what is not: %+v", set.Common)
	}
	// Another card's assumptions are its own: the table is not shared.
	set.Common[0].Limit = 99
	if other := readings.FromCard(card); other.Common[0].Limit == 99 || readings.UsualCommon()[0].Limit == 99 {
		t.Error("one card's settings changed another's")
	}
	var rows []readings.Row
	for i, n := range []float64{800, 1400, 2000, 2600, 3200, 3800} {
		rows = append(rows, truth{constant: 1.9, tau: 177}.row(8, n, 85, []float64{0.1, -0.1, 0.1, -0.1, 0.1, -0.1}[i]))
	}
	res, err := readings.Fit(rows, readings.FromCard(card))
	if err != nil {
		t.Fatal(err)
	}
	if res.Verdict != readings.Adjust || res.Allowance.Set != 175 || math.Abs(res.Housing.TurnDeg-0.95) > 0.1 {
		t.Errorf("%s, allowance %+v, housing %+v", res.Verdict, res.Allowance, res.Housing)
	}
}
