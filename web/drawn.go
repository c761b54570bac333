package web

import "sync"

// drawn holds what the pages of a job draw. Each is drawn when first asked for, once for a version of the job.
type drawn struct {
	plates func() (*sheetPlates, error) // drawn once for a card
	chart  func() (*plate, error)       // of the fit
	after  func() (*plate, error)       // of the proof
	spark  func() (*sparkBase, error)   // what decides over the spark, as on the card
}

// sheetPlates are the drawings of the set-up sheet.
type sheetPlates struct{ damper, cap, rotor *plate }

// newDrawn sets the drawings up for a job whose card can be used. Those of the sheet are the ones of the version before where the card is the same.
func newDrawn(j, before *job) *drawn {
	if j.Card == nil {
		return nil
	}
	d := &drawn{}
	d.chart = sync.OnceValues(func() (*plate, error) {
		res, err := j.Fit()
		if err != nil {
			return nil, err
		}
		return j.errorChart(res.Result, j.Readings, res.From)
	})
	d.after = sync.OnceValues(func() (*plate, error) {
		proof, err := j.Proof()
		if err != nil {
			return nil, err
		}
		return j.errorChart(proof.Is, j.AfterCorrections(), 0)
	})
	if before.drawn != nil && before.CardVersion == j.CardVersion {
		d.plates, d.spark = before.drawn.plates, before.drawn.spark
		return d
	}
	d.plates = sync.OnceValues(func() (*sheetPlates, error) {
		sh, err := j.Sheet()
		if err != nil {
			return nil, err
		}
		var p sheetPlates
		if p.damper, err = damperPlate(j.Card, sh); err != nil {
			return nil, err
		}
		if p.cap, err = capPlate(j.Card, sh); err != nil {
			return nil, err
		}
		p.rotor, err = rotorPlate(j.Card)
		return &p, err
	})
	d.spark = sync.OnceValues(func() (*sparkBase, error) { return newSparkBase(j) })
	return d
}
