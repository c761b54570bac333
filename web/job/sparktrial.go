package job

import (
	"errors"
	"net/http"
	"net/url"
	"strings"

	"phasewright/coil"
	"phasewright/drawing"
	"phasewright/quantity"
	"phasewright/report"
	"phasewright/sheet"
	"phasewright/web/page"
	"phasewright/web/shelf"
)

// savedSpark is what decides over the spark as the card has it: what every trial starts from.
type savedSpark struct {
	*sheet.Case
	knobs    []sheet.Knob
	verdicts map[string]sheet.Verdict // of each item, by ID
}

func newSavedSpark(j *shelf.Job) (*savedSpark, error) {
	k, err := j.Spark()
	if err != nil {
		return nil, err
	}
	b := &savedSpark{Case: k, knobs: sheet.Knobs(j.Card), verdicts: map[string]sheet.Verdict{}}
	for _, it := range k.Items() {
		b.verdicts[it.ID] = it.Verdict
	}
	return b, nil
}

// knobLine is one value that may be tried, as the form shows it.
type knobLine struct {
	sheet.Knob
	Value, Low, High, By, OnCard string // as typed; ends and step of the slider; what the card says
	Wrong                        string
}

// sparkItem is one item; Was is the verdict on the card where it differs.
type sparkItem struct {
	itemLine
	Was string
}

// sparkBody is the page, and the part of it that a trial changes.
type sparkBody struct {
	ID                  string
	NoCard              string
	Knobs               []knobLine
	Cannot              *cannot // why nothing was worked out
	Fine, Caution, Stop int
	Causes              []causeLine
	Worse, Better       []string // items that a trial changed
	Chart, Rotor        *page.Plate
	Reading             []string
	Heads               []string
	Rows                [][]string
	Extrapolated        bool
	Items               []sparkItem
	Write               []writeLine // what a trial would have to write on the card
	DwellTable          bool
	Turn                string
}

// cannot is a value that cannot be used: where, what, remedy.
type cannot struct{ Field, Found, Remedy string }

type causeLine struct{ Mark, Text string }

// writeLine is a field of the card with what to write there.
type writeLine struct{ Path, Value, Was string }

// sparkSpeeds is at how many speeds the chart on a page is worked out.
const sparkSpeeds = 60

// try works out what the values in the query come to. Nothing is recorded.
func (b *savedSpark) try(id string, q url.Values) (body *sparkBody, status int, err error) {
	body = &sparkBody{ID: id, DwellTable: b.Plan.Primary != nil}
	values := map[string]float64{}
	for _, k := range b.knobs {
		line := knobLine{Knob: k, Low: typed(k.Least), High: typed(k.Most), By: typed(k.Step), OnCard: typed(k.Card)}
		line.Value = strings.TrimSpace(q.Get(k.Name))
		if line.Value == "" || line.Value == line.OnCard {
			line.Value = line.OnCard
		} else if v, err := k.Read(line.Value); err == nil {
			values[k.Name] = v
			if v != k.Card {
				body.Write = append(body.Write,
					writeLine{k.Path, typed(v) + unitOnCard(k), line.OnCard + unitOnCard(k)})
			}
		} else if wrong := (*quantity.Invalid)(nil); errors.As(err, &wrong) {
			line.Wrong = wrong.Found + "; " + wrong.Remedy
			body.Cannot = &cannot{Found: "a value cannot be tried", Remedy: "correct the field that is marked"}
		}
		body.Knobs = append(body.Knobs, line)
	}
	if body.Cannot == nil {
		tried, err := b.Try(values)
		if body.Cannot = cannotBe(err); body.Cannot == nil {
			if err != nil {
				return nil, 0, err
			}
			return body, 0, body.fill(b, tried)
		}
	}
	body.Write = nil
	return body, http.StatusUnprocessableEntity, nil
}

// cannotBe takes the errors of the spark's rooms apart; nil for any other.
func cannotBe(err error) *cannot {
	var wrong *quantity.Invalid
	if errors.As(err, &wrong) {
		return &cannot{wrong.Field, page.Whole(wrong.Found), page.Whole(wrong.Remedy)}
	}
	return nil
}

// typed prints a value as a form takes it: a point, no thousands mark, an ASCII minus.
func typed(v float64) string {
	return strings.NewReplacer("\u2009", "", "−", "-").Replace(quantity.Number(v, -1))
}

// unitOnCard is the unit as the card takes it.
func unitOnCard(k sheet.Knob) string {
	if k.Unit == "°" {
		return " deg"
	}
	return " " + k.Unit
}

func (body *sparkBody) fill(b *savedSpark, tried *sheet.Case) error {
	d := tried.Decide(sparkSpeeds)
	for _, x := range d.Causes {
		if x.Limit == coil.Nothing || x.To <= x.From {
			continue
		}
		line := causeLine{"fine", page.Whole(report.CauseWords(x))}
		if x.Fails {
			line.Mark = "caution"
		}
		body.Causes = append(body.Causes, line)
	}
	for _, it := range tried.Items() {
		body.add(it, b.verdicts)
	}
	heads, rows := report.SparkTable(d)
	body.Heads = heads
	for _, r := range rows {
		body.Rows = append(body.Rows, page.WholeAll(r))
		for _, cell := range r {
			body.Extrapolated = body.Extrapolated || strings.HasSuffix(cell, "*")
		}
	}
	body.Reading = page.WholeAll(report.SparkReading(tried))
	body.Turn = tried.Card.Distributor.Rotation.FromAbove()
	var err error
	body.Chart, err = page.Draw("decide", func(width float64, prefix string) (*drawing.Drawing, error) {
		return report.SparkChart(d, width, prefix).Draw()
	})
	if err != nil {
		return err
	}
	body.Rotor, err = sweepPlate(tried)
	return err
}

// add counts an item and compares it with how it stands on the card.
func (body *sparkBody) add(it sheet.Item, onCard map[string]sheet.Verdict) {
	*[]*int{&body.Fine, &body.Caution, &body.Stop}[grade(it.Verdict)]++
	line := sparkItem{itemLine: itemLineOf(it)}
	if was, had := onCard[it.ID]; had && was != it.Verdict {
		line.Was = string(was)
		words := line.Title + ": " + line.Was + " → " + line.Verdict
		if grade(it.Verdict) > grade(was) {
			body.Worse = append(body.Worse, words)
		} else {
			body.Better = append(body.Better, words)
		}
	}
	body.Items = append(body.Items, line)
}

func grade(v sheet.Verdict) int {
	switch v {
	case sheet.Fine:
		return 0
	case sheet.Caution:
		return 1
	}
	return 2
}
