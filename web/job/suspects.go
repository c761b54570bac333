package job

import (
	"errors"
	"fmt"
	"math"
	"net/http"
	"net/url"
	"strings"

	"phasewright/book"
	"phasewright/quantity"
	"phasewright/readings"
	"phasewright/record"
	"phasewright/suspects"
	"phasewright/web/page"
	"phasewright/web/shelf"
)

type suspectsBody struct {
	ID, Key   string
	NoCard    string
	CanWrite  bool
	Light     string // what of the light is taken from the job
	Groups    []evidenceGroup
	Wrong     string // evidence that belongs to no field
	Advised   bool   // the judge advises a cure
	Suspects  []suspectLine
	Next      []adviceLine
	Findings  []string // what no suspect explains
	Plot      *seenTable
	Chart     *page.Plate // the light readings among them, against speed
	ChartSays string
	RestsOn   []string // our own numbers behind the ranking

	status int // nought where all of the evidence could be used
}

type suspectLine struct {
	Name, Chance, Apart, Size, Cure string
	Because                         []string
	Width                           int // of the bar, per cent
}

type adviceLine struct{ Do, Cost, Hazard string }

type seenTable struct {
	Heads []string
	Rows  [][]string
}

// What is listed: the first few suspects and those that are not out of the question, and the first few looks.
const (
	surelyListed = 4
	leastListed  = 0.03
	looksListed  = 4
)

// suspectsPage is the whole page; without script its form asks for it again.
func (r *Room) suspectsPage(q *page.Request, j *shelf.Job) error {
	b, err := weigh(q, j, q.URL.Query())
	if err != nil {
		return err
	}
	return renderSuspects(q, j, b)
}

func renderSuspects(q *page.Request, j *shelf.Job, b *suspectsBody) error {
	p := j.Page("suspects", "suspects", "Suspects", b)
	p.Live, p.Status = q.Method != http.MethodPost, b.status
	p.Next = j.Next()
	switch {
	case b.NoCard != "":
		p.Next = &page.Next{Say: "Make the job card usable first:", Link: j.Path("/card"), Word: "job card"}
	case b.Wrong != "":
		p.Next = &page.Next{Say: "Correct the evidence that is marked."}
	}
	return q.Render(p)
}

// suspectsPart is the ranking alone, as evidence is entered.
func (r *Room) suspectsPart(q *page.Request, j *shelf.Job) error {
	given := q.URL.Query()
	given.Set("part", "1") // an emptied form is evidence too: nothing was seen
	b, err := weigh(q, j, given)
	if err != nil {
		return err
	}
	return q.Part("suspects", "suspects-part", b.status, b)
}

// suspectsPost keeps the evidence with the job.
func (r *Room) suspectsPost(q *page.Request, j *shelf.Job) error {
	given := url.Values{}
	for k, list := range q.PostForm {
		for _, x := range list {
			if x = strings.TrimSpace(x); k != "key" && x != "" && len(x) < 200 && len(given) < 100 {
				given[k] = append(given[k], x)
			}
		}
	}
	b, err := weigh(q, j, given)
	if err != nil {
		return err
	}
	if b.status != 0 {
		return renderSuspects(q, j, b)
	}
	if err := r.Append(q, j.ID, book.KindEvidenceSaved, q.Key(), map[string]any{"fields": given}); err != nil {
		return err
	}
	return q.Done(j.Path("/suspects"))
}

// weigh makes the page's body from what was typed, or from what was kept where nothing was.
func weigh(q *page.Request, j *shelf.Job, given url.Values) (*suspectsBody, error) {
	b := &suspectsBody{ID: j.ID, Key: page.NewKey(), CanWrite: q.By.CanWork()}
	if j.Card == nil {
		b.NoCard = "Suspects are weighed against the engine of the job card, once that can be used."
		return b, nil
	}
	if len(given) == 0 {
		given, _ = j.KeptEvidence()
	}
	e, err := suspects.New(j.Card, suspects.DefaultPriors())
	if err != nil {
		b.NoCard = "The card's engine cannot be put on the bench: " + err.Error()
		return b, nil
	}
	ev, readErr := suspects.ReadEvidence("evidence", []byte(record.EvidenceText(given, j.Card)))
	wrong := map[string]string{}
	if es := (suspects.Errors)(nil); errors.As(readErr, &es) {
		for _, x := range es {
			wrong[x.Path] = x.Problem + " – " + x.Remedy
		}
		ev = &suspects.Evidence{}
	}
	b.Groups = evidenceGroups(given, wrong)
	b.Light = fromJob(j, ev)
	if readErr != nil {
		b.Wrong = "Some evidence cannot be read; the ranking below goes without all that was typed."
		b.status = http.StatusUnprocessableEntity
	}
	res, err := e.Explain(ev, limits(j))
	if err != nil {
		b.Wrong, b.status = page.Whole(err.Error()), http.StatusUnprocessableEntity
		return b, nil
	}
	b.fill(res)
	says, err := j.Judge()
	if err != nil {
		return nil, err
	}
	b.Advised = says.Cure != nil
	return b, nil
}

// fromJob takes the job's own readings, and what its last recording showed, into the evidence.
func fromJob(j *shelf.Job, ev *suspects.Evidence) string {
	var rows []readings.Row
	for _, r := range j.Counting() {
		rows = append(rows, r.Row())
	}
	if j.Card != nil {
		rows = readings.FromCard(j.Card).Counted(rows)
	}
	ev.FromReadings(rows)
	said := fmt.Sprintf("%d readings of this job are taken as they stand.", len(rows))
	if len(rows) == 0 {
		said = "This job has no readings yet."
	}
	for i := len(j.Events) - 1; i >= 0; i-- {
		if sha, ok := shelf.CaptureOf(j.Events[i]); ok && j.Captures[sha] != nil {
			ev.FromCapture(j.Captures[sha])
			return said + " So is its last recording."
		}
	}
	return said
}

// fill puts the ranking into words.
func (b *suspectsBody) fill(res *suspects.Result) {
	for i, x := range res.Suspects {
		if i < surelyListed || x.Probability >= leastListed {
			b.Suspects = append(b.Suspects, suspectLine{Name: page.Whole(x.Name), Because: x.Because, Apart: x.Apart,
				Size: x.Size, Cure: page.Whole(x.Cure), Chance: quantity.Chance(x.Probability),
				Width: int(100 * x.Probability)})
		}
	}
	for _, o := range res.Observations[:min(len(res.Observations), looksListed)] {
		cost := page.Figure(o.Bits, 2) + " bit, " + page.Figure(o.Minutes, 1) + " min"
		b.Next = append(b.Next, adviceLine{page.Whole(o.Observation), cost, o.Hazard})
	}
	b.Findings, b.RestsOn = page.WholeAll(res.Findings), page.WholeAll(res.RestsOn)
	if len(res.Plot) == 0 {
		return
	}
	b.Chart, b.ChartSays = predictionChart(res), predictionSays(res)
	b.Plot = &seenTable{Heads: append([]string{"looked at", "seen"}, res.Plotted...)}
	for _, p := range res.Plot {
		row := []string{p.Name, page.Figure(p.Seen, 1) + " " + p.Unit}
		for _, predicted := range p.Predicted {
			text := "none"
			if v := float64(predicted); !math.IsNaN(v) {
				text = page.Figure(v, 1)
			}
			row = append(row, text)
		}
		b.Plot.Rows = append(b.Plot.Rows, row)
	}
}
