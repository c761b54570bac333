package job

import (
	"errors"
	"fmt"
	"maps"
	"math"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"phasewright/book"
	"phasewright/readings"
	"phasewright/record"
	"phasewright/suspects"
	"phasewright/verdict"
	"phasewright/web/page"
	"phasewright/web/shelf"
)

type suspectsBody struct {
	Judged    string // what the judge finds broken where nothing that was seen is
	ID, Key   string
	NoCard    string
	CanWrite  bool
	Light     string // what of the light is taken from the job
	Empty     bool   // nothing was seen yet
	Wrong     string // what is the matter with the evidence
	Marked    []question
	At        round // that is asked now
	Then      round // that comes after it; no ID: none
	Round     []question
	Rounds    []roundLink
	Cylinder  int // that is asked of
	Each      []roundLink
	More      []part
	Unseen    []answer
	Now       nowSays
	Looks     []part // the next look, and one in its stead
	Suspects  []suspectLine
	Findings  []string // what no suspect explains
	Plot      *seenTable
	Chart     *page.Plate // the light readings among them, against speed
	ChartSays string
	RestsOn   []string // our own numbers behind the ranking

	status int // nought where all of the evidence could be used
}

// roundLink leads to a round of questions, or to a cylinder.
type roundLink struct {
	ID, Title string
	Answered  int
	Here      bool
}

// nowSays is what to do now.
type nowSays struct {
	Settled     bool
	Say         string
	Mind, Check string
}

type suspectLine struct {
	Name, Chance, Apart, Size string
	Why, Against              []string
	Cure, Mind, Check         string
	Fault                     bool
	Or                        bool // stands together with the one before
	Width                     int  // of the bar, per cent
	Full                      []string
}

type seenTable struct {
	Heads []string
	Rows  [][]string
}

// leastListed is the share of an explanation that is listed at all; the first few always are.
const (
	surelyListed = 3
	leastListed  = 0.03
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
	if b.NoCard != "" {
		p.Next = &page.Next{Say: "Make the job card usable first:", Link: j.Path("/card"), Word: "job card"}
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
			x = strings.TrimSpace(x)
			switch {
			case notEvidence(k) || x == "":
				continue
			case utf8.RuneCountInString(x) > longestAnswer:
				return page.Refuse("An answer has more than 1000 letters: nothing was kept.", "Go back and shorten it.")
			case len(given) >= mostFields:
				return page.Refuse("That is more than there is to look at: nothing was kept.", "Load the page again.")
			}
			given[k] = append(given[k], x)
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

// What one form may hold: some two hundred fields, and free words.
const (
	longestAnswer = 1000
	mostFields    = 300
)

// notEvidence says of a field of the form that it is not what was seen.
func notEvidence(name string) bool {
	return slices.Contains([]string{"key", "at", "cyl", "part"}, name)
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
	given = said(given)
	e, err := suspects.New(j.Card, suspects.DefaultPriors())
	if err != nil {
		b.NoCard = "The card's engine cannot be put on the bench: " + err.Error()
		return b, nil
	}
	ev, wrong := readSeen(given, j)
	b.Light = fromJob(j, ev)
	if len(wrong) > 0 {
		b.Wrong = "What is marked cannot be read. The ranking goes without it until it is put right."
		b.status = http.StatusUnprocessableEntity
	}
	res, err := e.Explain(ev, limits(j))
	if err != nil {
		b.Wrong, b.status = page.Sentence(page.Whole(err.Error())), http.StatusUnprocessableEntity
		if at, _, ok := strings.Cut(err.Error(), " – "); ok {
			wrong[at] = strings.TrimPrefix(err.Error(), at+" – ")
		}
		b.ask(newAsker(j.Card, j.Path(""), given, wrong), ev, nil)
		return b, nil
	}
	says, err := j.Judge()
	if err != nil {
		return nil, err
	}
	now := says.Now(res)
	b.Empty = len(wrong) == 0 && len(res.Plot) == 0 && !slices.ContainsFunc(slices.Collect(maps.Keys(given)),
		func(name string) bool { return !notEvidence(name) })
	if b.Empty {
		now.Looks = nil // begin where one begins
	}
	if says.Word == verdict.Fails && res.Suspects[0].Name == suspects.NothingWrong {
		b.Judged = page.Sentence(page.Whole("the record fails: " + says.First))
	}
	b.fill(res, now)
	b.ask(newAsker(j.Card, j.Path(""), given, wrong), ev, now.Looks)
	return b, nil
}

// said leaves out the fields that hold nothing: questions that were skipped.
func said(given url.Values) url.Values {
	out := url.Values{}
	for name, list := range given {
		for _, x := range list {
			if strings.TrimSpace(x) != "" {
				out.Add(name, x)
			}
		}
	}
	return out
}

// readSeen reads what was typed. What cannot be read is left out, and said of its field.
func readSeen(given url.Values, j *shelf.Job) (*suspects.Evidence, map[string]string) {
	wrong := map[string]string{}
	good := maps.Clone(given)
	for range 2 {
		text := record.EvidenceText(good, j.Card)
		ev, err := suspects.ReadEvidence("evidence", []byte(text.Text))
		if err == nil {
			return ev, wrong
		}
		es := (suspects.Errors)(nil)
		if !errors.As(err, &es) {
			break
		}
		for _, x := range es {
			name := text.Field(x.Line, x.Path)
			wrong[name] = x.Problem + " – " + x.Remedy
			delete(good, name)
		}
	}
	return &suspects.Evidence{}, wrong
}

// ask lays out the questions: what cannot be read, the looks that are advised, then a round.
func (b *suspectsBody) ask(a *asker, ev *suspects.Evidence, looks []suspects.Advice) {
	b.Marked = a.marked()
	for i := range looks {
		if qs := a.look(&looks[i]); len(qs) > 0 {
			b.Looks = append(b.Looks, part{Questions: qs})
		}
	}
	all := rounds()
	// the button that was pressed comes after the round that was shown
	asked := a.given["at"][max(len(a.given["at"])-1, 0):]
	at := max(slices.IndexFunc(all, func(r round) bool { return slices.Contains(asked, r.ID) }), 0)
	b.At = all[at]
	if at+1 < len(all) {
		b.Then = all[at+1]
	}
	for i, r := range all {
		link := roundLink{ID: r.ID, Title: r.Title, Here: i == at}
		for name := range a.given {
			if slices.Contains(r.keys, name) || r.ID == cylinderRound && strings.HasPrefix(name, "cylinders ") {
				link.Answered++
			}
		}
		b.Rounds = append(b.Rounds, link)
	}
	switch b.At.ID {
	case cylinderRound:
		b.each(a, ev)
		b.Round = a.cylinder(b.Cylinder)
	case restRound:
		b.Round = a.all(b.At.keys...)
		b.More = a.more()
	default:
		b.Round = a.all(b.At.keys...)
	}
	b.Unseen = a.unseen()
}

// each lists the cylinders; asked of is the one that was tapped, else the first that misfires.
func (b *suspectsBody) each(a *asker, ev *suspects.Evidence) {
	b.Cylinder = 1
	if len(ev.Engine.Misfire) > 0 {
		b.Cylinder = ev.Engine.Misfire[0]
	}
	if list := a.given["cyl"]; len(list) > 0 {
		if n, err := strconv.Atoi(list[len(list)-1]); err == nil && n >= 1 && n <= a.card.Engine.Cylinders {
			b.Cylinder = n
		}
	}
	for n := 1; n <= a.card.Engine.Cylinders; n++ {
		link := roundLink{ID: strconv.Itoa(n), Title: strconv.Itoa(n), Here: n == b.Cylinder}
		for name := range a.given {
			if strings.HasPrefix(name, fmt.Sprintf("cylinders %d.", n)) {
				link.Answered++
			}
		}
		b.Each = append(b.Each, link)
	}
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
func (b *suspectsBody) fill(res *suspects.Result, now verdict.Now) {
	b.Now = nowSays{Settled: now.Settled, Say: page.Sentence(page.Whole(now.Do)), Mind: page.Sentence(now.Mind),
		Check: page.Sentence(page.Whole(now.Check))}
	for i, l := range verdict.Lines(res) {
		x := l.Suspect
		if i >= surelyListed && x.Probability < leastListed {
			continue
		}
		line := suspectLine{Name: page.Whole(l.Name), Chance: l.Share, Or: !l.First, Fault: len(l.Faults) > 0,
			Cure:  page.Whole(l.Cure),
			Width: int(100 * l.Probability)}
		if l.First {
			line.Why, line.Against = verdict.Reasons(x)
			line.Why, line.Against = page.WholeAll(line.Why), page.WholeAll(line.Against)
			line.Apart, line.Size, line.Mind, line.Check = x.Apart, page.Whole(x.Size), x.Mind, page.Whole(x.Check)
			line.Full = page.WholeAll(x.Because)
		}
		b.Suspects = append(b.Suspects, line)
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
