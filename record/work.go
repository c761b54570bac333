package record

import (
	"math"
	"slices"
	"sync"

	"phasewright/jobcard"
	"phasewright/procedure"
	"phasewright/quantity"
	"phasewright/readings"
	"phasewright/sheet"
	"phasewright/suspects"
	"phasewright/verdict"
)

// worked holds what a job's card and readings come to. Each is worked out when first asked for, once for a version of
// the job, so that fifty pages of one job cost one fit.
type worked struct {
	fit    func() (*Fitted, error) // by the readings alone, before it is judged
	proof  func() (*readings.Proof, error)
	sheet  func() (*sheet.Sheet, error)
	spark  func() (*sheet.Case, error)
	engine func() (*suspects.Engine, error)
	order  func() (*procedure.Procedure, error)
	judged func() (*verdict.Judgement, error)
}

// newWorked sets the sums up for a job whose card can be used. What follows from the card alone is that of the version
// before where the card is the same.
func newWorked(j, before *Job) *worked {
	if j.Card == nil {
		return nil
	}
	w := &worked{fit: sync.OnceValues(j.makeFit), proof: sync.OnceValues(j.makeProof),
		judged: sync.OnceValues(j.judge)}
	if before.work != nil && before.Card == j.Card {
		w.sheet, w.spark = before.work.sheet, before.work.spark
		w.engine, w.order = before.work.engine, before.work.order
	} else {
		card := j.Card
		w.sheet = sync.OnceValues(func() (*sheet.Sheet, error) { return sheet.Make(card) })
		w.spark = sync.OnceValues(func() (*sheet.Case, error) { return sheet.CaseOf(card) })
		w.engine = sync.OnceValues(func() (*suspects.Engine, error) {
			return suspects.New(card, suspects.DefaultPriors())
		})
		set := w.sheet
		w.order = sync.OnceValues(func() (*procedure.Procedure, error) {
			sh, err := set()
			if err != nil {
				return nil, err
			}
			return procedure.New(card, sh)
		})
	}
	return w
}

// housing is how far the housing had been turned in a configuration, shaft degrees, with the rotor positive.
func (j *Job) housing(configuration int) float64 {
	sum := 0.0
	for _, c := range j.Corrections {
		if c.Configuration > configuration {
			break
		}
		switch c.Direction {
		case readings.WithRotor:
			sum += c.Housing
		case readings.AgainstRotor:
			sum -= c.Housing
		}
	}
	return sum
}

// Turned is where the housing stands now, shaft degrees from where it stood at first, with the rotor positive.
func (j *Job) Turned() float64 { return j.housing(len(j.changes)) }

// settings is what the readings are judged by after the first n corrections.
func (j *Job) settings(n int) readings.Settings {
	set := j.withInstruments(readings.FromCard(j.Card))
	for _, c := range j.Corrections[:n] {
		if c.Allowance != nil {
			set.AllowanceNow, set.AllowanceOpen = quantity.Time(*c.Allowance), false
		}
	}
	return set
}

// Allowance is the delay allowance that the controller has now: the card's until a correction changed it. The card
// must be one that can be used.
func (j *Job) Allowance() jobcard.Setting[quantity.Time] { return j.allowanceAfter(len(j.Corrections)) }

// allowanceAfter is the delay allowance after the first n corrections.
func (j *Job) allowanceAfter(n int) jobcard.Setting[quantity.Time] {
	set := j.settings(n)
	if set.AllowanceOpen {
		return jobcard.Setting[quantity.Time]{}
	}
	return jobcard.Set(set.AllowanceNow)
}

// Pending says whether a correction was made that no reading has tried yet.
func (j *Job) Pending() bool { return j.tried() < len(j.Corrections) }

// tried is the number of corrections made before the last reading that counts.
func (j *Job) tried() int {
	n, last := len(j.Corrections), len(j.Readings)
	for last > 0 && !j.Readings[last-1].Counts() {
		last--
	}
	for n > 0 && j.Corrections[n-1].After >= last {
		n--
	}
	return n
}

// rows gives the readings that count, of those with an index from first up to but without end.
func (j *Job) rows(first, end int) []readings.Row {
	var rows []readings.Row
	for _, r := range j.Readings[first:end] {
		if r.Counts() {
			rows = append(rows, r.Row())
		}
	}
	return rows
}

// Fitted is a fit with the index of the first reading that entered it.
type Fitted struct {
	*readings.Result
	From int
}

func (j *Job) makeFit() (*Fitted, error) {
	n, first := j.tried(), j.sinceRebuilt()
	if n > 0 {
		from := max(j.Corrections[n-1].After, first)
		res, err := readings.Fit(j.rows(from, len(j.Readings)), j.settings(n))
		if err != nil {
			return nil, err
		}
		if res.Offset.Known() && !math.IsInf(res.Offset.Expanded(), 1) {
			return &Fitted{res, from}, nil
		}
	}
	res, err := readings.Fit(j.rows(first, len(j.Readings)), j.settings(n))
	return &Fitted{res, first}, err
}

// proofSeed makes the proof's simulation repeatable: the same readings give the same figures on every page.
const proofSeed = 1

func (j *Job) makeProof() (*readings.Proof, error) {
	before, after := j.proofRows()
	n := len(j.Corrections)
	return readings.Prove(before, after, j.settings(n-len(j.Current())), j.settings(n),
		readings.Simulation{Seed: proofSeed})
}

// begun is the configuration in which the work of today began: the first, or the last that began with another engine
// or with one that had long been out of sight.
func (j *Job) begun() int {
	return j.lastBegun(func(c procedure.Change) bool { return c == procedure.Reopened || c == procedure.OtherEngine })
}

// Current are the corrections of the work of today; those before it are history.
func (j *Job) Current() []Correction {
	begun := j.begun()
	i := slices.IndexFunc(j.Corrections, func(c Correction) bool { return c.Configuration > begun })
	if i < 0 {
		return nil
	}
	return j.Corrections[i:]
}

// proofRows are the readings of today's work before its first correction and those since the last change that touches
// the timing.
func (j *Job) proofRows() (before, after []readings.Row) {
	first := j.firstOf(j.begun())
	end := first
	if now := j.Current(); len(now) > 0 {
		end = max(first, now[0].After)
	}
	return j.rows(first, end), j.rows(j.since(verdict.Timing), len(j.Readings))
}

// since is the index of the first reading taken since the last change that touches a clause.
func (j *Job) since(id verdict.ID) int {
	return j.sinceLast(func(c procedure.Change) bool { return slices.Contains(verdict.Touched(c), id) })
}

// sinceRebuilt is the index of the first reading that a line of today may go through: a turn of the housing or another
// allowance carries the readings before it along, any other change that touches the timing ends them.
func (j *Job) sinceRebuilt() int {
	return j.sinceLast(func(c procedure.Change) bool {
		return c != procedure.HousingTurned && c != procedure.AllowanceSet && c != procedure.WiresMoved &&
			slices.Contains(verdict.Touched(c), verdict.Timing)
	})
}

// sinceLast is the index of the first reading of the configuration that the last change of a kind began, or of a later
// one.
func (j *Job) sinceLast(is func(procedure.Change) bool) int { return j.firstOf(j.lastBegun(is)) }

// lastBegun is the configuration that the last change of a kind began; 0 where there was none.
func (j *Job) lastBegun(is func(procedure.Change) bool) (configuration int) {
	for i, c := range j.changes {
		if slices.ContainsFunc(c.kinds, is) {
			configuration = i + 1
		}
	}
	return configuration
}

// firstOf is the index of the first reading of a configuration or of a later one.
func (j *Job) firstOf(configuration int) int {
	i := 0
	for i < len(j.Readings) && j.Readings[i].Origin.Configuration < configuration {
		i++
	}
	return i
}

// Row is the reading as the fit takes it.
func (r Reading) Row() readings.Row {
	row := readings.Row{Speed: quantity.Speed(r.RPM), Shown: quantity.Crank(r.Shown), Locked: quantity.Crank(r.Locked),
		Housing: quantity.Shaft(r.Housing), Wire: r.Wire, Confirmed: r.Confirmed, Note: r.Note}
	if r.U != nil {
		row.U = quantity.Crank(*r.U)
	}
	if r.Allowance != nil {
		row.Allowance, row.AllowanceStated = quantity.Time(*r.Allowance), true
	}
	return row
}
