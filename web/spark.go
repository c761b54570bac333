package web

import (
	"errors"
	"net/http"
	"net/url"
	"strings"

	"phasewright/coil"
	"phasewright/drawing"
	"phasewright/jobcard"
	"phasewright/quantity"
	"phasewright/report"
	"phasewright/sheet"
)

// sparkBase is what decides over the spark as the card has it: what every trial starts from.
type sparkBase struct {
	kase  *sheet.Case
	knobs []sheet.Knob
	was   map[string]sheet.Verdict // of each item, by ID
}

func newSparkBase(j *job) (*sparkBase, error) {
	k, err := j.Spark()
	if err != nil {
		return nil, err
	}
	b := &sparkBase{kase: k, knobs: sheet.Knobs(j.Card), was: map[string]sheet.Verdict{}}
	for _, it := range k.Items() {
		b.was[it.ID] = it.Verdict
	}
	return b, nil
}

// knobLine is one value that may be tried, as the form shows it.
type knobLine struct {
	sheet.Knob
	Value, Low, High, By, OnCard string // as typed; ends and step of the slider; what the card says
	Wrong                        string
}

// sparkItem is one finding; Was is the verdict on the card where it differs.
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
	Worse, Better       []string // titles of findings that a trial changed
	Chart, Rotor        *plate
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

// sparkBody works out what the values in the query come to. Nothing is recorded.
func (b *sparkBase) body(id string, q url.Values) (body *sparkBody, status int, err error) {
	body = &sparkBody{ID: id, DwellTable: b.kase.Plan.Primary != nil}
	values := map[string]float64{}
	for _, k := range b.knobs {
		line := knobLine{Knob: k, Low: typed(k.Least), High: typed(k.Most), By: typed(k.Step), OnCard: typed(k.Card)}
		line.Value = strings.TrimSpace(q.Get(k.Name))
		switch {
		case line.Value == "" || line.Value == line.OnCard:
			line.Value = line.OnCard
		default:
			v, err := k.Read(line.Value)
			var wrong *quantity.Invalid
			if errors.As(err, &wrong) {
				line.Wrong = wrong.Found + "; " + wrong.Remedy
				status = http.StatusUnprocessableEntity
			} else {
				values[k.Name] = v
				if v != k.Card {
					body.Write = append(body.Write, writeLine{k.Path, typed(v) + unitOnCard(k), line.OnCard + unitOnCard(k)})
				}
			}
		}
		body.Knobs = append(body.Knobs, line)
	}
	if status != 0 {
		body.Write = nil
		body.Cannot = &cannot{Found: "a value cannot be tried", Remedy: "correct the field that is marked"}
		return body, status, nil
	}
	tried, err := b.kase.Try(values)
	if why := cannotBe(err); why != nil {
		body.Cannot, body.Write = why, nil
		return body, http.StatusUnprocessableEntity, nil
	} else if err != nil {
		return nil, 0, err
	}
	return body, 0, body.fill(b, tried)
}

// cannotBe takes the errors of the spark's rooms apart; nil for any other.
func cannotBe(err error) *cannot {
	var wrong *quantity.Invalid
	if errors.As(err, &wrong) {
		return &cannot{wrong.Field, whole(wrong.Found), whole(wrong.Remedy)}
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

func (body *sparkBody) fill(b *sparkBase, tried *sheet.Case) error {
	d := tried.Decide(sparkSpeeds)
	for _, x := range d.Causes {
		if x.Limit == coil.Nothing || x.To <= x.From {
			continue
		}
		line := causeLine{"fine", whole(report.CauseWords(x))}
		if x.Fails {
			line.Mark = "caution"
		}
		body.Causes = append(body.Causes, line)
	}
	for _, it := range tried.Items() {
		switch it.Verdict {
		case sheet.Fine:
			body.Fine++
		case sheet.Caution:
			body.Caution++
		default:
			body.Stop++
		}
		line := sparkItem{itemLine: itemLine{ID: it.ID, Title: whole(it.Title), Text: whole(it.Text), Verdict: string(it.Verdict), Because: whole(it.Because), Formula: it.Formula, Ignored: it.Ignored, Inputs: it.Inputs}}
		if was, had := b.was[it.ID]; had && was != it.Verdict {
			line.Was = string(was)
			word := line.Title + ": " + line.Was + " → " + line.Verdict
			if grade(it.Verdict) > grade(was) {
				body.Worse = append(body.Worse, word)
			} else {
				body.Better = append(body.Better, word)
			}
		}
		body.Items = append(body.Items, line)
	}
	heads, rows := report.SparkTable(d)
	body.Heads = heads
	for _, r := range rows {
		cells := make([]string, len(r))
		for i, c := range r {
			cells[i] = whole(c)
			body.Extrapolated = body.Extrapolated || strings.HasSuffix(c, "*")
		}
		body.Rows = append(body.Rows, cells)
	}
	for _, line := range report.SparkReading(tried) {
		body.Reading = append(body.Reading, whole(line))
	}
	var err error
	body.Chart, err = draw(func(width float64, prefix string) (*drawing.Drawing, error) {
		return report.SparkChart(d, width, prefix).Draw()
	}, "decide")
	if err != nil {
		return err
	}
	body.Turn = tried.Card.Distributor.Rotation.FromAbove()
	body.Rotor, err = sweepPlate(tried)
	return err
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

// sweepPlate is the rotor over its terminal, to scale; nil where no rotor carries the spark.
func sweepPlate(k *sheet.Case) (*plate, error) {
	if _, ok := report.RotorSweep(k.Card, k.Plan, phoneWidth, ""); !ok {
		return nil, nil
	}
	return draw(func(width float64, prefix string) (*drawing.Drawing, error) {
		view, _ := report.RotorSweep(k.Card, k.Plan, width, prefix)
		return view.Draw()
	}, "sweep")
}

// rotorPlate is sweepPlate for the set-up sheet: nil too where the card's rotor cannot be, which an item says.
func rotorPlate(c *jobcard.Card) (*plate, error) {
	k, err := sheet.CaseOf(c)
	if err != nil {
		return nil, nil
	}
	return sweepPlate(k)
}
