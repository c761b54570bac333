package web

import (
	"fmt"
	"math"
	"net/http"
	"strconv"
	"strings"
	"unicode/utf8"

	"phasewright/book"
	"phasewright/drawing"
	"phasewright/report"
	"phasewright/shaft"
)

// capturePost reads a file again, with the roles that somebody chose.
func (s *Server) capturePost(w http.ResponseWriter, r *http.Request, v *visit, j *job, f book.Attachment) error {
	roles := map[string]shaft.Role{}
	for name, values := range r.PostForm {
		channel, ok := strings.CutPrefix(name, "role.")
		if !ok || values[0] == "" {
			continue
		}
		role, err := shaft.ParseRole(values[0])
		if err != nil {
			return say(http.StatusUnprocessableEntity, err.Error()+".", "Choose one from the list.")
		}
		roles[channel] = role
	}
	if err := s.readCapture(j.ID, j.Card, f, roles, v); err != nil {
		return err
	}
	return done(w, r, "/job/"+j.ID+"/captures")
}

// captureBody is what one recording holds.
type captureBody struct {
	Line       captureLine
	CanWrite   bool
	Result     *shaft.Result
	Mark, Word string // the upshot
	Next       string
	Views      []captureFigure
	Brief      []report.Figure
	Timing     []report.Figure
	Channels   []channelLine
	Anomalies  []anomalyLine
	More       int64 // anomalies that are not listed
	Cylinders  []cylinderLine
	Roles      []string
}

// captureFigure is one drawing with the same in figures.
type captureFigure struct {
	ID, Title, Reading, Want string
	Wide                     bool // over both columns
	Plate                    *plate
	Heads                    []string
	Rows                     [][]string
}

type channelLine struct{ Name, Role, Edges, Low, High, Reason string }

// anomalyLine is one wrong pulse; AtS is its moment as an address takes it.
type anomalyLine struct{ At, AtS, Kind, Channel string }

type cylinderLine struct{ Cylinder, Count, After, SD, Error string }

// capturePage shows what one recording holds.
func (s *Server) capturePage(w http.ResponseWriter, r *http.Request, v *visit, j *job, f book.Attachment) error {
	b := captureBody{Line: s.captureLine(j, f, v), CanWrite: v.role >= Work, Result: j.Captures[f.SHA256]}
	if b.Result != nil {
		if err := b.fill(j); err != nil {
			return err
		}
	}
	return s.render(w, r, v, page{View: "capture", Title: j.Name + ", " + f.Name, Where: "Capture", Job: j.head(), Live: true, Version: j.Version, Body: b})
}

// capturePDF is the paper on one recording, with its figures inside.
func (s *Server) capturePDF(w http.ResponseWriter, r *http.Request, v *visit, j *job, f book.Attachment) error {
	res := j.Captures[f.SHA256]
	if res == nil {
		return say(http.StatusConflict, "This recording has not been read yet, so there is nothing to print.", "Go to the captures of the job and read it first.")
	}
	paper, err := j.CapturePaper(res, paperSize(r))
	return sendPaper(w, paper, err, j.fileName("recording.pdf"))
}

func (b *captureBody) fill(j *job) error {
	res := b.Result
	b.Roles = []string{string(shaft.Crank), string(shaft.Cam), string(shaft.Spark), string(shaft.Mark), string(shaft.Unknown)}
	verdict, word, next := report.CaptureSays(res, j.Card)
	b.Mark, b.Word, b.Next = verdict.Word(), whole(word), whole(next)
	recorded, timing := report.CaptureFigures(res)
	b.Brief, b.Timing = wholeFigures(recorded), wholeFigures(timing)
	if sp := res.Spark; sp != nil {
		for _, c := range sp.ByCylinder {
			b.Cylinders = append(b.Cylinders, cylinderLine{fmt.Sprint(c.Cylinder), figure(float64(c.Count), 0), figure(c.AfterEdge.Mean, 2), figure(c.AfterEdge.SD, 2), known(float64(c.Error), 2, "")})
		}
	}
	for _, c := range res.Channels {
		b.Channels = append(b.Channels, channelLine{c.Name, string(c.Role), figure(float64(c.Edges), 0), known(float64(c.LowV), 2, ""), known(float64(c.HighV), 2, ""), whole(c.Reason)})
	}
	for _, a := range res.Anomalies {
		b.Anomalies = append(b.Anomalies, anomalyLine{figure(a.TimeS, 4), strconv.FormatFloat(a.TimeS, 'f', -1, 64), strings.ReplaceAll(string(a.Kind), "_", " "), a.Channel})
	}
	for _, n := range res.AnomalyCount {
		b.More += n
	}
	b.More -= int64(len(res.Anomalies))
	for _, v := range report.CaptureViews(res, j.Card) {
		f, err := captureFigureOf(v)
		if err != nil {
			return err
		}
		b.Views = append(b.Views, f)
	}
	return nil
}

// Widths on the desk, mm: two abreast, and the edges around a cycle over both columns.
const (
	pairWidth = 110
	bothWidth = 230
)

func captureFigureOf(v report.CaptureView) (captureFigure, error) {
	f := captureFigure{ID: v.ID, Title: v.Title, Reading: whole(v.Reading), Want: whole(v.Want), Wide: v.ID == "cycle", Heads: v.Heads}
	for _, row := range v.Rows {
		cells := make([]string, len(row))
		for i, c := range row {
			cells[i] = whole(c)
		}
		f.Rows = append(f.Rows, cells)
	}
	if v.Draw == nil {
		return f, nil
	}
	desk := float64(pairWidth)
	if f.Wide {
		desk = bothWidth
	}
	var err error
	f.Plate, err = drawAt(phoneWidth, desk, func(width float64, prefix string) (*drawing.Drawing, error) {
		return v.Draw(report.Plate{Width: width, Prefix: prefix})
	}, v.ID)
	return f, err
}

// wholeFigures keeps every number with its unit on one line.
func wholeFigures(list []report.Figure) []report.Figure {
	keep := func(text string) string {
		if utf8.RuneCountInString(text) < 12 {
			text = strings.ReplaceAll(text, " ", "\u00a0")
		}
		return whole(text)
	}
	for i, x := range list {
		list[i] = report.Figure{Name: whole(x.Name), Value: keep(x.Value), U: keep(x.U), Note: whole(x.Note)}
	}
	return list
}

// known prints a figure, or a dash where it is not known.
func known(v float64, places int, unit string) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return "–"
	}
	return figure(v, places) + unit
}
