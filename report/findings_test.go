package report

import (
	"testing"

	"phasewright/coil"
	"phasewright/shaft"
	"phasewright/sheet"
)

// What a chart says to whoever hears it, on figures made up by hand.
func TestChartsSayWhatTheyShow(t *testing.T) {
	points := []shaft.SpeedPoint{{RPM: 800, AfterEdge: 52.04, Error: 2.31}, {RPM: 1600, AfterEdge: 9, Error: 9},
		{RPM: 4200, AfterEdge: 50.96, Error: -0.02}}
	r := &shaft.Result{DurationS: 20.04, Series: &shaft.Series{}}
	r.Series.Speed = []shaft.TimePoint{{Min: 900, Max: 1000}, {Min: 754, Max: 4004}}
	for _, role := range []shaft.Role{shaft.Crank, shaft.Cam, shaft.Crank, shaft.Spark} {
		r.Series.Cycle = append(r.Series.Cycle, shaft.CyclePoint{Role: role})
	}
	fails := sheet.Decision{Causes: []sheet.Cause{{From: 180, To: 750, Limit: coil.DwellShort, Fails: true},
		{From: 750, To: 4620, Limit: coil.DwellShort}}}
	for want, got := range map[string]string{
		"2.3° early at 800\u2009rpm, on time at 4\u2009200\u2009rpm.":                         timingFinding(points, true),
		"The spark comes 52.0° after its edge at 800\u2009rpm, 51.0° at 4\u2009200\u2009rpm.": timingFinding(points, false),
		"Cylinder 5 is farthest from the mean of all: 1.2° late.":                             cylindersFinding([]shaft.CylinderSpread{{Cylinder: 1, Mean: 0.3}, {Cylinder: 5, Mean: -1.2}, {Cylinder: 3, Mean: 0.9}}),
		"No spark is told to a cylinder.":                                                     cylindersFinding(nil),
		"From 754 to 4\u2009004\u2009rpm in 20.0\u2009s.":                                     speedFinding(r),
		"In two turns of the crankshaft: crank edges 2, cam edges 1, sparks 1, marks 0.":      cycleFinding(r),
		"From 180 to 750\u2009rpm: dwell set too short.":                                      sparkFinding(fails),
		"Nothing fails up to 4\u2009620\u2009rpm; " + fails.Causes[1].Name() + ".":            sparkFinding(sheet.Decision{Causes: fails.Causes[1:]}),
	} {
		if got != want {
			t.Errorf("says %q, want %q", got, want)
		}
	}
}
