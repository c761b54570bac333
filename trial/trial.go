// Package trial sets our advice against common practice: a technician who works by the fitted line, on the same
// simulated engines as one who nudges and looks, judged by the truth that only the bench knows.
//
// ByAdvice reads the light at three speeds, has package readings fit the line, makes both corrections at one stop, and
// proves them with two readings more. Speeds are as low as the common practice's. Readings on the starter are not used:
// they are biased by compression.
package trial

import (
	"phasewright/bench"
	"phasewright/quantity"
	"phasewright/readings"
)

// ByAdvice is the technician who does what the fit of the readings advises.
type ByAdvice struct{ Tolerance quantity.Crank }

// Name says who it is.
func (ByAdvice) Name() string { return "by our advice" }

// Limits of one job.
const (
	mostReadings = 12
	mostRounds   = 4
	mostMore     = 1 // reading more that is asked for in a row: high revs are not for nothing
)

// Tune reads, fits, corrects once, and reads again until the verdict is pass or nothing more is to be gained.
func (p ByAdvice) Tune(s *bench.Shop) error {
	c := s.Engine()
	high := 0.7 * c.Engine.Redline
	var rows []readings.Row
	housing := quantity.Shaft(0) // turned so far, with the rotor positive
	read := func(n quantity.Speed) error {
		r, err := s.Read(n)
		if err != nil {
			return err
		}
		rows = append(rows, readings.Row{Speed: r.Speed, Shown: r.Shown, Locked: r.Locked, U: r.U,
			Allowance: r.Allowance, AllowanceStated: true, Housing: housing})
		return nil
	}
	// Readings at idle and in the middle cost no high revs: two of the former pin the constant error down.
	look := []quantity.Speed{c.Engine.Idle, min((c.Engine.Idle+high)/2, c.Engine.Redline/2), high, c.Engine.Idle}
	for _, n := range look {
		if err := read(n); err != nil {
			return err
		}
	}
	for round := 0; round < mostRounds; round++ {
		fit, err := readings.Fit(rows, p.settings(c, s, high))
		for more := 0; err == nil && fit.Verdict == readings.ReadMore && more < mostMore &&
			len(rows) < mostReadings; more++ {
			if err = read(min(max(quantity.Speed(fit.Next), c.Engine.Idle), high)); err == nil {
				fit, err = readings.Fit(rows, p.settings(c, s, high))
			}
		}
		if err != nil {
			return err
		}
		change := fit.Allowance.Changes()
		turn := fit.Housing.Direction != readings.Leave && fit.Housing.TurnDeg > 0
		proven := round > 0 && fit.Verdict != readings.Adjust // what is left is not worth another stop
		if proven || fit.Verdict == readings.Pass || !change && !turn || len(rows) >= mostReadings {
			return nil
		}
		if change {
			s.SetAllowance(quantity.Time(fit.Allowance.Set))
		}
		if turn {
			by := quantity.Shaft(fit.Housing.TurnDeg)
			if fit.Housing.Direction == readings.WithRotor {
				by = -by
			}
			s.TurnHousing(by)
			housing -= by
		}
		for _, n := range look {
			if err := read(n); err != nil {
				return err
			}
		}
	}
	return nil
}

func (p ByAdvice) settings(c bench.Config, s *bench.Shop, high quantity.Speed) readings.Settings {
	return readings.Settings{
		AllowanceNow: s.Allowance(), AllowanceStep: c.Controller.Step, Idle: c.Engine.Idle, Redline: c.Engine.Redline,
		Cranking:       c.Engine.CrankingSpeed,
		HighestReading: high, Tolerance: p.Tolerance, Resolution: c.Light.Resolution, Common: readings.UsualCommon(),
		HousingTravel: c.Distributor.HousingTravel,
	}
}

// Run sets our advice against common practice, with and without a second look at idle, over random engines.
func Run(engines int, seed uint64, tolerance quantity.Crank) ([]bench.TrialRow, error) {
	return bench.RunTrial(engines, seed, tolerance, bench.ByPractice{}, bench.ByPractice{Idle: bench.RecheckIdle},
		ByAdvice{tolerance})
}
