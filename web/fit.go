package web

import (
	"phasewright/engine"
	"phasewright/jobcard"
	"phasewright/quantity"
	"phasewright/readings"
)

// housing is how far the housing has been turned so far, shaft degrees, with the rotor positive.
func (j *job) housing() float64 {
	sum := 0.0
	for _, c := range j.Corrections {
		switch c.Direction {
		case readings.WithRotor:
			sum += c.Housing
		case readings.AgainstRotor:
			sum -= c.Housing
		}
	}
	return sum
}

// allowance is the delay allowance in force after the first n corrections, µs.
func (j *job) allowance(n int) float64 {
	a := float64(j.Card.Controller.DelayAllowance)
	for _, c := range j.Corrections[:n] {
		if c.Allowance != nil {
			a = *c.Allowance
		}
	}
	return a
}

// pending says whether a correction was made that no reading has tried yet.
func (j *job) pending() bool {
	n := len(j.Corrections)
	return n > 0 && j.Corrections[n-1].After == len(j.Readings)
}

// tried is the number of corrections made before the last reading.
func (j *job) tried() int {
	n := len(j.Corrections)
	for n > 0 && j.Corrections[n-1].After == len(j.Readings) {
		n--
	}
	return n
}

// fit fits the readings that count. It is as of the last reading: a correction that no reading has tried yet is left out.
func (j *job) fit() (*readings.Result, error) {
	var rows []readings.Row
	for _, r := range j.Counting() {
		rows = append(rows, r.row())
	}
	return readings.Fit(rows, fitSettings(j.Card, quantity.Time(j.allowance(j.tried()))))
}

// row is the reading as the fit takes it.
func (r reading) row() readings.Row {
	row := readings.Row{Speed: quantity.Speed(r.RPM), Shown: quantity.Crank(r.Shown), Locked: quantity.Crank(r.Locked),
		Housing: quantity.Shaft(r.Housing), Note: r.Note}
	if r.U != nil {
		row.U = quantity.Crank(*r.U)
	}
	if r.Allowance != nil {
		row.Allowance, row.AllowanceStated = quantity.Time(*r.Allowance), true
	}
	return row
}

// fitSettings takes from the card what readings are judged by.
func fitSettings(c *jobcard.Card, allowance quantity.Time) readings.Settings {
	common := readings.UsualCommon()
	for i := range common {
		switch common[i].Name {
		case "mark placement":
			common[i].Limit = float64(engine.Damper{Diameter: c.Damper.Diameter.Value}.AngleOfArc(c.Damper.MarkPlacement))
			common[i].Assumed = c.Assumed("damper.mark_placement")
		case "zero mark against true TDC":
			common[i].Limit = float64(c.Damper.ZeroMark)
			common[i].Assumed = c.Assumed("damper.zero_mark")
		}
	}
	return readings.Settings{AllowanceNow: allowance, AllowanceStep: c.Controller.DelayStep, Idle: c.Engine.IdleSpeed, Redline: c.Engine.Redline,
		Cranking: c.Engine.CrankingSpeed, Tolerance: c.Tolerance, Common: common, RotorTurns: c.Distributor.Rotation.FromAbove(),
		HousingTravel: c.Distributor.HousingTravel}
}
