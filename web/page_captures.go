package web

import (
	"fmt"
	"math"
	"net/http"
	"strings"

	"phasewright/book"
	"phasewright/capture"
)

type capturesBody struct {
	Files    []captureLine
	Busy     bool // one of them is being read
	CanWrite bool
	Key      string
	Most     string
}

type captureLine struct {
	SHA, Name, Size, By, State, Mark string
	Busy, Read                       bool
}

// capturesPage lists the recorded files of a job with what each showed.
func (s *Server) capturesPage(w http.ResponseWriter, r *http.Request, v *visit) error {
	j, err := s.jobs.get(r.Context(), r.PathValue("job"))
	if err != nil {
		return err
	}
	files, err := s.Book.Attachments(r.Context(), j.ID)
	if err != nil {
		return err
	}
	b := capturesBody{CanWrite: v.role >= Work, Key: s.newKey(), Most: bytesInWords(s.MaxUpload)}
	for _, f := range files {
		l := s.captureLine(j, f)
		b.Files, b.Busy = append(b.Files, l), b.Busy || l.Busy
	}
	return s.render(w, r, v, page{View: "captures", Title: j.Name + ", captures", Where: "Captures", Job: j.head(), Live: true, Version: j.Version, Next: s.nextFor(j), Body: b})
}

func (s *Server) captureLine(j *job, f book.Attachment) captureLine {
	l := captureLine{SHA: f.SHA256.String(), Name: f.Name, Size: bytesInWords(f.Size), By: f.Who + ", " + s.when(f.At), State: "not read yet"}
	if res := j.Captures[f.SHA256]; res != nil {
		l.Read, l.Mark = true, "fine"
		l.State = inBrief(res)
		if len(res.Findings) > 0 || res.Partial != "" || res.Sync != capture.SyncHeld {
			l.Mark = "caution"
		}
	}
	if now, ok := s.captures.state(j.ID, f.SHA256); ok {
		switch {
		case now.trouble != "":
			l.State, l.Mark = now.trouble, "stop"
		case now.total > 0 && now.done > 0:
			l.State, l.Busy, l.Mark = fmt.Sprintf("being read: %d %%", min(100, 100*now.done/now.total)), true, ""
		default:
			l.State, l.Busy, l.Mark = "being read", true, ""
		}
	}
	return l
}

// inBrief is one line about a capture.
func inBrief(res *capture.Result) string {
	parts := []string{figure(res.DurationS, 1) + " s"}
	if res.Speed != nil {
		parts = append(parts, figure(res.Speed.Min, 0)+" to "+figure(res.Speed.Max, 0)+" rpm")
	}
	parts = append(parts, "sync "+string(res.Sync))
	if n := len(res.Findings); n > 0 {
		parts = append(parts, count(n, "finding"))
	}
	if res.Timing != nil && res.Timing.Offset.Known() {
		parts = append(parts, "timing "+string(res.Timing.Verdict))
	}
	return strings.Join(parts, ", ")
}

func bytesInWords(n int64) string {
	switch {
	case n >= 1<<30:
		return figure(float64(n)/(1<<30), 1) + " GiB"
	case n >= 1<<20:
		return figure(float64(n)/(1<<20), 1) + " MiB"
	case n >= 1<<10:
		return figure(float64(n)/(1<<10), 1) + " KiB"
	}
	return figure(float64(n), 0) + " bytes"
}

// capturesPost takes a recorded file in and begins to read it.
func (s *Server) capturesPost(w http.ResponseWriter, r *http.Request, v *visit) error {
	if !isUpload(r) {
		return errNoFile
	}
	j, err := s.jobs.get(r.Context(), r.PathValue("job"))
	if err != nil {
		return err
	}
	e, err := s.receive(w, r, v, j.ID)
	if err != nil {
		return err
	}
	files, err := s.Book.Attachments(r.Context(), j.ID)
	if err != nil {
		return err
	}
	for _, f := range files {
		if f.Version == e.Version {
			s.readCapture(j.ID, j.Card, f, nil, v.who)
		}
	}
	return done(w, r, "/job/"+j.ID+"/captures")
}

// findFile finds a file of the job by the hash in the address.
func (s *Server) findFile(r *http.Request, j *job) (book.Attachment, error) {
	sha, err := book.ParseHash(r.PathValue("sha"))
	if err != nil {
		return book.Attachment{}, book.ErrNoAttachment
	}
	files, err := s.Book.Attachments(r.Context(), j.ID)
	if err != nil {
		return book.Attachment{}, err
	}
	for _, f := range files {
		if f.SHA256 == sha {
			return f, nil
		}
	}
	return book.Attachment{}, book.ErrNoAttachment
}

// capturePost reads a file again, with the roles that somebody chose.
func (s *Server) capturePost(w http.ResponseWriter, r *http.Request, v *visit) error {
	if err := r.ParseForm(); err != nil {
		return err
	}
	j, err := s.jobs.get(r.Context(), r.PathValue("job"))
	if err != nil {
		return err
	}
	f, err := s.findFile(r, j)
	if err != nil {
		return err
	}
	roles := map[string]capture.Role{}
	for name, values := range r.PostForm {
		channel, ok := strings.CutPrefix(name, "role.")
		if !ok || values[0] == "" {
			continue
		}
		role, err := capture.ParseRole(values[0])
		if err != nil {
			return say(http.StatusUnprocessableEntity, err.Error()+".", "Choose one from the list.")
		}
		roles[channel] = role
	}
	s.readCapture(j.ID, j.Card, f, roles, v.who)
	return done(w, r, "/job/"+j.ID+"/captures")
}

type captureBody struct {
	Line      captureLine
	CanWrite  bool
	Result    *capture.Result
	Brief     []figureLine
	Channels  []channelLine
	Anomalies []anomalyLine
	More      int64 // anomalies that are not listed
	Cylinders []cylinderLine
	Cycle     *plate
	BySpeed   *plate
	SpeedRows []speedLine
	Timing    []figureLine
	Roles     []string
}

type channelLine struct{ Name, Role, Edges, Low, High, Reason string }

type anomalyLine struct{ At, Kind, Channel string }

type cylinderLine struct{ Cylinder, Count, After, SD, Error string }

type speedLine struct{ RPM, Count, After, Error string }

// capturePage shows what one recording holds.
func (s *Server) capturePage(w http.ResponseWriter, r *http.Request, v *visit) error {
	j, err := s.jobs.get(r.Context(), r.PathValue("job"))
	if err != nil {
		return err
	}
	f, err := s.findFile(r, j)
	if err != nil {
		return err
	}
	b := captureBody{Line: s.captureLine(j, f), CanWrite: v.role >= Work, Result: j.Captures[f.SHA256]}
	if b.Result != nil {
		if err := b.fill(); err != nil {
			return err
		}
	}
	return s.render(w, r, v, page{View: "capture", Title: j.Name + ", " + f.Name, Where: "Capture", Job: j.head(), Live: true, Version: j.Version, Body: b})
}

func (b *captureBody) fill() error {
	res := b.Result
	b.Roles = []string{string(capture.Crank), string(capture.Cam), string(capture.Spark), string(capture.Mark), string(capture.Unknown)}
	b.Brief = []figureLine{{"length", figure(res.DurationS, 2) + " s", ""}, {"edges", figure(float64(res.Edges), 0), ""}, {"sync", string(res.Sync), ""}}
	if res.Speed != nil {
		b.Brief = append(b.Brief, figureLine{"speed", figure(res.Speed.Min, 0) + " to " + figure(res.Speed.Max, 0) + " rpm", "mean " + figure(res.Speed.Mean, 0)})
	}
	if c := res.Crank; c != nil {
		b.Brief = append(b.Brief, figureLine{"active crank edges a cycle", fmt.Sprint(c.EdgesPerCycle), c.ActiveEdge}, figureLine{"vane width, shaft", known(float64(c.VaneWidthDeg), 2, "°"), ""})
	}
	if c := res.Cam; c != nil {
		b.Brief = append(b.Brief, figureLine{"safest cam edge", c.SafeEdge, figure(c.SafeMarginDeg, 1) + "° clear"})
	}
	if sp := res.Spark; sp != nil {
		b.Brief = append(b.Brief, figureLine{"sparks", figure(float64(sp.Count), 0), ""}, figureLine{"dwell as driven", known(float64(sp.DwellMS), 2, " ms"), ""},
			figureLine{"spark after the active edge", figure(sp.AfterEdge.Mean, 2) + "°", "sd " + figure(sp.AfterEdge.SD, 2) + "°"})
		for _, c := range sp.ByCylinder {
			b.Cylinders = append(b.Cylinders, cylinderLine{fmt.Sprint(c.Cylinder), figure(float64(c.Count), 0), figure(c.AfterEdge.Mean, 2), figure(c.AfterEdge.SD, 2), known(float64(c.Error), 2, "")})
		}
	}
	for _, c := range res.Channels {
		b.Channels = append(b.Channels, channelLine{c.Name, string(c.Role), figure(float64(c.Edges), 0), known(float64(c.LowV), 2, ""), known(float64(c.HighV), 2, ""), whole(c.Reason)})
	}
	for _, a := range res.Anomalies {
		b.Anomalies = append(b.Anomalies, anomalyLine{figure(a.TimeS, 4), strings.ReplaceAll(string(a.Kind), "_", " "), a.Channel})
	}
	for _, n := range res.AnomalyCount {
		b.More += n
	}
	b.More -= int64(len(res.Anomalies))
	if t := res.Timing; t != nil && t.Offset.Known() {
		b.Timing = []figureLine{{"constant error", signed(t.Offset.Value, 2) + "°", plusMinus(t.Offset.Expanded(), 2, "°")}, {"delay left over", signed(t.Delay.Value, 0) + " µs", plusMinus(t.Delay.Expanded(), 0, " µs")},
			{"allowance: now → set", figure(t.Allowance.Now, -1) + " → " + figure(t.Allowance.Set, -1) + " µs", ""}, {"firings", figure(float64(t.Firings), 0), ""}, {"verdict", string(t.Verdict), ""}}
	}
	if res.Series == nil {
		return nil
	}
	for _, p := range res.Series.BySpeed {
		b.SpeedRows = append(b.SpeedRows, speedLine{figure(p.RPM, 0), figure(float64(p.Count), 0), figure(p.AfterEdge, 2), known(float64(p.Error), 2, "")})
	}
	var err error
	b.BySpeed, err = sparkBySpeed(res.Series.BySpeed)
	return err
}

// known prints a figure, or a dash where it is not known.
func known(v float64, places int, unit string) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return "–"
	}
	return figure(v, places) + unit
}
