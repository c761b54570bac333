package web

import (
	"math"
	"sync"

	"phasewright/quantity"
	"phasewright/readings"
	"phasewright/sheet"
)

// worked holds what a job's card and readings come to. Each is worked out when first asked for, once for a version of the
// job, so that fifty pages of one job cost one fit.
type worked struct {
	fit   func() (*fitted, error)
	proof func() (*readings.Proof, error)
	sheet func() (*sheet.Sheet, error)

	plates func() (*sheetPlates, error) // drawn once for a card
	chart  func() (*plate, error)       // of the fit
	after  func() (*plate, error)       // of the proof

	spark func() (*sparkBase, error) // what decides over the spark, as on the card
}

// sheetPlates are the drawings of the set-up sheet.
type sheetPlates struct{ damper, cap, rotor *plate }

// newWorked sets the sums up for a job whose card can be used. The sheet is that of the version before where the card is the same.
func newWorked(j *job, before *job) *worked {
	if j.Card == nil {
		return nil
	}
	w := &worked{fit: sync.OnceValues(j.makeFit), proof: sync.OnceValues(j.makeProof)}
	w.chart = sync.OnceValues(func() (*plate, error) {
		res, err := w.fit()
		if err != nil {
			return nil, err
		}
		return j.errorChart(res.Result, j.Readings, res.from)
	})
	w.after = sync.OnceValues(func() (*plate, error) {
		proof, err := w.proof()
		if err != nil {
			return nil, err
		}
		return j.errorChart(proof.Is, j.afterCorrections(), 0)
	})
	if before.work != nil && before.CardVersion == j.CardVersion {
		w.sheet, w.plates, w.spark = before.work.sheet, before.work.plates, before.work.spark
	} else {
		card := j.Card
		w.sheet = sync.OnceValues(func() (*sheet.Sheet, error) { return sheet.Make(card) })
		w.plates = sync.OnceValues(func() (*sheetPlates, error) {
			sh, err := w.sheet()
			if err != nil {
				return nil, err
			}
			var p sheetPlates
			if p.damper, err = damperPlate(card, sh); err != nil {
				return nil, err
			}
			if p.cap, err = capPlate(card, sh); err != nil {
				return nil, err
			}
			p.rotor, err = rotorPlate(card)
			return &p, err
		})
		w.spark = sync.OnceValues(func() (*sparkBase, error) { return newSparkBase(card) })
	}
	return w
}

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

// settings is what the readings are judged by after the first n corrections.
func (j *job) settings(n int) readings.Settings {
	set := readings.FromCard(j.Card)
	for _, c := range j.Corrections[:n] {
		if c.Allowance != nil {
			set.AllowanceNow = quantity.Time(*c.Allowance)
		}
	}
	return set
}

// pending says whether a correction was made that no reading has tried yet.
func (j *job) pending() bool { return j.tried() < len(j.Corrections) }

// tried is the number of corrections made before the last reading.
func (j *job) tried() int {
	n := len(j.Corrections)
	for n > 0 && j.Corrections[n-1].After == len(j.Readings) {
		n--
	}
	return n
}

// rows gives the readings that count, of those with an index from first up to but without end.
func (j *job) rows(first, end int) []readings.Row {
	var rows []readings.Row
	for _, r := range j.Readings[first:end] {
		if r.Withdrawn == "" {
			rows = append(rows, r.row())
		}
	}
	return rows
}

// fitted is a fit with the index of the first reading that entered it.
type fitted struct {
	*readings.Result
	from int
}

// makeFit fits the readings that count, as of the last one: a correction that no reading has tried yet is left out. Once those since the last
// correction give an interval by themselves they alone are fitted, as in the proof: how far a hand turned a housing is not known to a tenth.
func (j *job) makeFit() (*fitted, error) {
	n := j.tried()
	if n > 0 {
		from := j.Corrections[n-1].After
		res, err := readings.Fit(j.rows(from, len(j.Readings)), j.settings(n))
		if err != nil {
			return nil, err
		}
		if res.Offset.Known() && !math.IsInf(res.Offset.Expanded(), 1) {
			return &fitted{res, from}, nil
		}
	}
	res, err := readings.Fit(j.rows(0, len(j.Readings)), j.settings(n))
	return &fitted{res, 0}, err
}

// proofSeed makes the proof's simulation repeatable: the same readings give the same figures on every page.
const proofSeed = 1

// makeProof is the closing statement: the readings after the last correction, beside those before the first.
func (j *job) makeProof() (*readings.Proof, error) {
	before, after := j.proofRows()
	return readings.Prove(before, after, j.settings(0), j.settings(len(j.Corrections)), readings.Simulation{Seed: proofSeed})
}

// proofRows are the readings before the first correction and those after the last.
func (j *job) proofRows() (before, after []readings.Row) {
	first, last := 0, 0
	if n := len(j.Corrections); n > 0 {
		first, last = j.Corrections[0].After, j.Corrections[n-1].After
	}
	return j.rows(0, first), j.rows(last, len(j.Readings))
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
