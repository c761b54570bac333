package recording

import (
	"fmt"
	"net/http"
	"strconv"
	"strings"
	"unicode/utf8"

	"phasewright/book"
	"phasewright/drawing"
	"phasewright/report"
	"phasewright/shaft"
	"phasewright/web/page"
	"phasewright/web/shelf"
)

// readPost reads a file again, with the roles that somebody chose.
func (r *Room) readPost(q *page.Request, j *shelf.Job, f book.Attachment) error {
	roles := map[string]shaft.Role{}
	for name, values := range q.PostForm {
		channel, ok := strings.CutPrefix(name, "role.")
		if !ok || values[0] == "" {
			continue
		}
		role, err := shaft.ParseRole(values[0])
		if err != nil {
			return page.Refuse(err.Error()+".", "Choose one from the list.")
		}
		roles[channel] = role
	}
	if err := r.read(q.By, j.ID, j.Card, f, roles); err != nil {
		return err
	}
	return q.Done(j.Path("/captures"))
}

// stopPost ends the reading of a file.
func (r *Room) stopPost(q *page.Request, j *shelf.Job, f book.Attachment) error {
	if err := r.queue.end(q.By, j.ID, f.SHA256); err != nil {
		return err
	}
	return q.Done(j.Path("/captures"))
}

// recordingBody is what one recording holds.
type recordingBody struct {
	Line       listLine
	CanWrite   bool
	Result     *shaft.Result
	Mark, Word string // the upshot
	Next       string
	Evidence   *evidence // how it stands to the order of work; nil without a card
	Views      []recordingView
	Brief      []report.Figure
	Timing     []report.Figure
	Channels   []channelLine
	Anomalies  []anomalyLine
	More       int64 // anomalies that are not listed
	Cylinders  []cylinderLine
	Roles      []shaft.Role
}

// recordingView is one drawing with the same in figures.
type recordingView struct {
	ID, Title, Reading, Want string
	Wide                     bool // over both columns
	Plate                    *page.Plate
	Heads                    []string
	Rows                     [][]string
}

type channelLine struct{ Name, Role, Edges, Low, High, Reason string }

// anomalyLine is one wrong pulse; AtS is its moment as an address takes it.
type anomalyLine struct{ At, AtS, Kind, Channel string }

type cylinderLine struct{ Cylinder, Count, After, SD, Error string }

// recordingPage shows what one recording holds.
func (r *Room) recordingPage(q *page.Request, j *shelf.Job, f book.Attachment) error {
	return r.showRecording(q, j, f, 0, nil)
}

// showRecording shows a recording; answer is what came of taking it as evidence, nil where nobody asked.
func (r *Room) showRecording(q *page.Request, j *shelf.Job, f book.Attachment, status int, answer *evidence) error {
	b := recordingBody{Line: r.listLine(q, j, f), CanWrite: q.By.CanWork(), Result: j.Captures[f.SHA256],
		Evidence: answer}
	if b.Result != nil {
		if err := b.fill(j); err != nil {
			return err
		}
		if b.Evidence == nil && j.Card != nil {
			var err error
			if b.Evidence, err = r.evidenceOf(j, f, nil); err != nil {
				return err
			}
		}
	}
	p := j.Page("capture", f.Name, "Capture", b)
	p.Status, p.Next = status, j.Next()
	return q.Render(p)
}

// recordingPDF is the paper on one recording, with its figures inside.
func recordingPDF(q *page.Request, j *shelf.Job, f book.Attachment) error {
	res := j.Captures[f.SHA256]
	if res == nil {
		return page.Say(http.StatusConflict, "This recording has not been read yet, so there is nothing to print.",
			"Go to the captures of the job and read it first.")
	}
	paper, err := j.CapturePaper(res, q.PaperSize())
	return q.SendPaper(paper, err, j.FileName("recording.pdf"))
}

func (b *recordingBody) fill(j *shelf.Job) error {
	b.Roles = []shaft.Role{shaft.Crank, shaft.Cam, shaft.Spark, shaft.Mark, shaft.Unknown}
	says, err := j.JudgeCapture(b.Result)
	if err != nil {
		return err
	}
	verdict, word, next := report.CaptureSays(says, b.Result, j.Card)
	res := says.OntoCapture(b.Result, j.Card)
	b.Result = res
	b.Mark, b.Word, b.Next = verdict.Word(), page.Whole(word), page.Whole(next)
	recorded, timing := report.CaptureFigures(res)
	b.Brief, b.Timing = wholeFigures(recorded), wholeFigures(timing)
	if res.Spark != nil {
		for _, c := range res.Spark.ByCylinder {
			b.Cylinders = append(b.Cylinders, cylinderLine{fmt.Sprint(c.Cylinder), page.Figure(float64(c.Count), 0),
				page.Figure(c.AfterEdge.Mean, 2), page.Figure(c.AfterEdge.SD, 2), page.Known(float64(c.Error), 2)})
		}
	}
	for _, c := range res.Channels {
		b.Channels = append(b.Channels, channelLine{c.Name, string(c.Role), page.Figure(float64(c.Edges), 0),
			page.Known(float64(c.LowV), 2), page.Known(float64(c.HighV), 2), page.Whole(c.Reason)})
	}
	for _, a := range res.Anomalies {
		b.Anomalies = append(b.Anomalies, anomalyLine{page.Figure(a.TimeS, 4),
			strconv.FormatFloat(a.TimeS, 'f', -1, 64), anomalyWords(a.Kind), a.Channel})
	}
	b.More = allAnomalies(res) - int64(len(res.Anomalies))
	for _, v := range report.CaptureViews(res, j.Card) {
		view, err := viewOf(v)
		if err != nil {
			return err
		}
		b.Views = append(b.Views, view)
	}
	return nil
}

// allAnomalies counts those that are not listed one by one too.
func allAnomalies(res *shaft.Result) int64 {
	var all int64
	for _, n := range res.AnomalyCount {
		all += n
	}
	return all
}

// Widths on the desk, mm: two abreast, and the edges around a cycle over both columns.
const (
	pairWidth = 110
	bothWidth = 230
)

func viewOf(v report.CaptureView) (recordingView, error) {
	f := recordingView{ID: v.ID, Title: v.Title, Reading: page.Whole(v.Reading), Want: page.Whole(v.Want),
		Wide: v.ID == "cycle", Heads: v.Heads}
	for _, row := range v.Rows {
		f.Rows = append(f.Rows, page.WholeAll(row))
	}
	if v.Draw == nil {
		return f, nil
	}
	desk := float64(pairWidth)
	if f.Wide {
		desk = bothWidth
	}
	var err error
	f.Plate, err = page.DrawAt(desk, v.ID, func(width float64, prefix string) (*drawing.Drawing, error) {
		return v.Draw(report.Space{Width: width, Prefix: prefix})
	})
	return f, err
}

// wholeFigures keeps every number with its unit on one line.
func wholeFigures(list []report.Figure) []report.Figure {
	keep := func(text string) string {
		if utf8.RuneCountInString(text) < 12 {
			text = strings.ReplaceAll(text, " ", "\u00a0")
		}
		return page.Whole(text)
	}
	for i, x := range list {
		list[i] = report.Figure{Name: page.Whole(x.Name), Value: keep(x.Value), U: keep(x.U), Note: page.Whole(x.Note)}
	}
	return list
}
