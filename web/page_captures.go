package web

import (
	"encoding/json"
	"net/http"
	"strings"

	"phasewright/book"
	"phasewright/shaft"
)

type capturesBody struct {
	Files    []captureLine
	Busy     bool // one of them is being read
	CanWrite bool
	Key      string
	Most     string
	Bytes    int64 // the same as a number, so that a page need not send in vain
}

type captureLine struct {
	SHA, Name, Size, By, State, Mark string
	Busy, Read                       bool
	Stop                             bool // whoever looks may stop the reading
	Percent                          int  // of the file that was read; -1: not known
}

// capturesPage lists the recorded files of a job with what each showed.
func (s *Server) capturesPage(w http.ResponseWriter, r *http.Request, v *visit, j *job) error {
	files, err := s.Book.Attachments(r.Context(), j.ID)
	if err != nil {
		return err
	}
	b := capturesBody{CanWrite: v.role >= Work, Key: s.newKey(), Most: bytesInWords(s.MaxUpload), Bytes: s.MaxUpload}
	for _, f := range files {
		l := s.captureLine(j, f, v)
		b.Files, b.Busy = append(b.Files, l), b.Busy || l.Busy
	}
	return s.render(w, r, v, page{View: "captures", Title: j.Name + ", captures", Where: "Captures", Job: j.head(), Live: true, Version: j.Version, Next: s.nextFor(j), Body: b})
}

func (s *Server) captureLine(j *job, f book.Attachment, v *visit) captureLine {
	l := captureLine{SHA: f.SHA256.String(), Name: f.Name, Size: bytesInWords(f.Size), By: f.Who + ", " + s.when(f.At), State: "not read yet"}
	if k := int(f.Version) - 1; k < len(j.Events) { // versions count from 1 without gaps
		l.By = joinedBy("; ", l.By, s.cameLate(j, j.Origin(j.Events[k])))
	}
	if res := j.Captures[f.SHA256]; res == nil {
		if why := j.unusable(f.SHA256); why != "" {
			l.State, l.Mark = "what was recorded of it does not count: "+why+". Read it again", "caution"
		}
	} else {
		l.Read, l.Mark = true, "fine"
		l.State = inBrief(res)
		if len(res.Findings) > 0 || res.Partial != "" || res.Sync != shaft.SyncHeld {
			l.Mark = "caution"
		}
	}
	if now, ok := s.captures.state(j.ID, f.SHA256); ok {
		switch {
		case now.trouble != "":
			l.State, l.Mark = now.trouble, "stop"
		default:
			l.State, l.Busy, l.Mark, l.Percent = now.words(s.Clock()), true, "", now.percent()
			l.Stop = s.captures.mayStop(v, j.ID, f.SHA256)
		}
	}
	return l
}

// unusable is why what was recorded of a file does not count; "" where nothing was.
func (j *job) unusable(sha book.Hash) string {
	for i := len(j.Events) - 1; i >= 0; i-- {
		e := j.Events[i]
		var p struct {
			SHA256 book.Hash `json:"sha256"`
		}
		if why := j.Why(e.Version); why != "" && e.Kind == book.KindCaptureRead && json.Unmarshal(e.Payload,
			&p) == nil && p.SHA256 == sha {
			return why
		}
	}
	return ""
}

// inBrief is one line about a capture.
func inBrief(res *shaft.Result) string {
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
func (s *Server) capturesPost(w http.ResponseWriter, r *http.Request, v *visit, j *job) error {
	if !isUpload(r) {
		return errNoFile
	}
	e, err := s.receive(w, r, v, j)
	if err != nil {
		return err
	}
	files, err := s.Book.Attachments(r.Context(), j.ID)
	if err != nil {
		return err
	}
	for _, f := range files {
		if f.Version == e.Version {
			// the file is kept all the same: a recording may not come again
			if err := s.readCapture(j.ID, j.Card, f, nil, v); err != nil {
				s.captures.refuse(j.ID, f, "Stored, but not read yet. "+err.Error())
			}
		}
	}
	return done(w, r, "/job/"+j.ID+"/captures")
}
