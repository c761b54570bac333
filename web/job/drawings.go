package job

import (
	"math"
	"sync"

	"phasewright/drawing"
	"phasewright/procedure"
	"phasewright/report"
	"phasewright/sheet"
	"phasewright/web/page"
	"phasewright/web/shelf"
)

// drawings are what the pages of a job draw, of a job whose card can be used. Each is drawn when first asked for, once
// for a version of the job.
type drawings struct {
	job   *shelf.Job
	sheet func() (*sheetPlates, error) // drawn once for a card
	spark func() (*savedSpark, error)  // what decides over the spark, as on the card; worked out once for a card
	fit   func() (*page.Plate, error)
	proof func() (*page.Plate, error)
	steps *stepPictures // drawn once for a card
}

// stepPictures are the drawings of the steps that somebody looked at.
type stepPictures struct {
	mu   sync.Mutex
	made map[procedure.StepID]*page.Plate
}

// stepDesk is the width of a step's drawing on the desk, mm: half of the page.
const stepDesk = 120

// step is what a step looks like on this engine; nil where that cannot be drawn from the card.
func (d *drawings) step(st procedure.Step) *page.Plate {
	d.steps.mu.Lock()
	defer d.steps.mu.Unlock()
	if made, known := d.steps.made[st.ID]; known {
		return made
	}
	var made *page.Plate
	if sh, err := d.job.Sheet(); err == nil {
		made, _ = page.DrawAt(stepDesk, "step", func(width float64, prefix string) (*drawing.Drawing, error) {
			return report.StepDrawing(d.job.Card, sh, st, width, prefix)
		})
	}
	d.steps.made[st.ID] = made
	return made
}

// sheetPlates are the drawings of the set-up sheet.
type sheetPlates struct{ damper, cap, rotor, lamp *page.Plate }

// maxDrawn bounds of how many jobs the drawings are kept.
const maxDrawn = 64

// drawingsOf gives the drawings of a job whose card can be used. Those of the sheet are the ones of another version of
// the job where the card is the same.
func (r *Room) drawingsOf(j *shelf.Job) *drawings {
	r.mu.Lock()
	defer r.mu.Unlock()
	have := r.drawn[j.ID]
	if have != nil && have.job == j {
		return have
	}
	d := &drawings{job: j, fit: sync.OnceValues(func() (*page.Plate, error) { return fitChart(j) })}
	d.proof = sync.OnceValues(func() (*page.Plate, error) { return proofChart(j) })
	if have != nil && have.job.CardVersion == j.CardVersion {
		d.sheet, d.spark, d.steps = have.sheet, have.spark, have.steps
	} else {
		d.sheet = sync.OnceValues(func() (*sheetPlates, error) { return drawSheet(j) })
		d.spark = sync.OnceValues(func() (*savedSpark, error) { return newSavedSpark(j) })
		d.steps = &stepPictures{made: map[procedure.StepID]*page.Plate{}}
	}
	for id := range r.drawn {
		if len(r.drawn) < maxDrawn {
			break
		}
		delete(r.drawn, id)
	}
	r.drawn[j.ID] = d
	return d
}

func drawSheet(j *shelf.Job) (*sheetPlates, error) {
	sh, err := j.Sheet()
	if err != nil {
		return nil, err
	}
	var p sheetPlates
	p.damper, err = page.Draw("damper", func(width float64, prefix string) (*drawing.Drawing, error) {
		v := report.DamperView(j.Card, sh)
		v.Width, v.Prefix = width, prefix
		return v.Draw()
	})
	if err != nil {
		return nil, err
	}
	if _, ok := report.CapView(j.Card, sh); ok { // else no cap steers the spark
		p.cap, err = page.Draw("cap", func(width float64, prefix string) (*drawing.Drawing, error) {
			v, _ := report.CapView(j.Card, sh)
			v.Width, v.Prefix = math.Min(width, 120), prefix
			return v.Draw()
		})
		if err != nil {
			return nil, err
		}
	}
	if k, err := sheet.CaseOf(j.Card); err == nil { // else the card's rotor cannot be, which an item says
		if p.rotor, err = sweepPlate(k); err != nil {
			return nil, err
		}
	}
	p.lamp, err = page.DrawAt(lampDesk, "lamp", func(width float64, prefix string) (*drawing.Drawing, error) {
		v := report.LampView(j.Card)
		v.Width, v.Prefix = width, prefix
		return v.Draw()
	})
	if err != nil {
		return nil, err
	}
	return &p, nil
}

// lampDesk is wide enough for two lamps beside each other, mm.
const lampDesk = 176

// sweepPlate is the rotor over its terminal, to scale; nil where no rotor carries the spark.
func sweepPlate(k *sheet.Case) (*page.Plate, error) {
	if _, ok := report.RotorSweep(k.Card, k.Plan, page.PhoneWidth, ""); !ok {
		return nil, nil
	}
	return page.Draw("sweep", func(width float64, prefix string) (*drawing.Drawing, error) {
		view, _ := report.RotorSweep(k.Card, k.Plan, width, prefix)
		return view.Draw()
	})
}
