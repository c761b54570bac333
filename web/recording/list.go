package recording

import (
	"strings"

	"phasewright/book"
	"phasewright/report"
	"phasewright/shaft"
	"phasewright/web/page"
	"phasewright/web/shelf"
)

type listBody struct {
	Files    []listLine
	Busy     bool // one of them is being read
	CanWrite bool
	Key      string
	Most     string
	Bytes    int64 // the same as a number, so that a page need not send in vain
}

type listLine struct {
	SHA, Name, Size, By, State, Mark string
	Busy, Read                       bool
	Gone                             bool // its content was thrown away
	Stop                             bool // whoever looks may stop the reading
	Percent                          int  // of the file that was read; -1: not known
}

// listPage lists the recorded files of a job with what each showed.
func (r *Room) listPage(q *page.Request, j *shelf.Job) error {
	files, err := r.Book.Attachments(q.Context(), j.ID)
	if err != nil {
		return err
	}
	b := listBody{CanWrite: q.By.CanWork(), Key: page.NewKey(), Most: sizeWords(r.limits.Most), Bytes: r.limits.Most}
	for _, f := range files {
		l := r.listLine(q, j, f)
		b.Files, b.Busy = append(b.Files, l), b.Busy || l.Busy
	}
	p := j.Page("captures", "captures", "Captures", b)
	p.Next = j.Next()
	return q.Render(p)
}

func (r *Room) listLine(q *page.Request, j *shelf.Job, f book.Attachment) listLine {
	l := listLine{SHA: f.SHA256.String(), Name: f.Name, Size: sizeWords(f.Size), State: "not read yet",
		By: page.Joined("; ", f.Who+", "+r.When(f.At), r.CameLateAt(j, f.Version))}
	if res := j.Captures[f.SHA256]; res != nil {
		l.Read, l.State = true, inBrief(res)
		if says, err := j.JudgeCapture(res); err == nil {
			mark, word, _ := report.CaptureSays(says, res, j.Card)
			l.Mark, l.State = mark.Word(), l.State+", "+word
		}
	} else if why := unusable(j, f.SHA256); why != "" {
		l.State, l.Mark = "what was recorded of it does not count: "+why+". Read it again", "caution"
	}
	if !f.Discarded.IsZero() {
		l.Gone = true
		l.State = page.Joined(", ", l.State, "content thrown away "+r.When(f.Discarded))
	}
	now, ok := r.queue.state(j.ID, f.SHA256)
	switch {
	case !ok && r.claims.elsewhere(q.Context(), j.ID, f.SHA256):
		l.State, l.Busy, l.Mark = "being read by another server of the shop", true, ""
	case ok && now.trouble != "":
		l.State, l.Mark = now.trouble, "stop"
	case ok:
		l.State, l.Busy, l.Mark, l.Percent = now.words(r.Clock()), true, "", now.percent()
		l.Stop = r.queue.mayStop(q.By, j.ID, f.SHA256)
	}
	return l
}

// unusable is why what was recorded of a file does not count; "" where nothing was.
func unusable(j *shelf.Job, sha book.Hash) string {
	for i := len(j.Events) - 1; i >= 0; i-- {
		if of, ok := shelf.CaptureOf(j.Events[i]); ok && of == sha {
			if why := j.Why(j.Events[i].Version); why != "" {
				return why
			}
		}
	}
	return ""
}

// inBrief is one line about a recording.
func inBrief(res *shaft.Result) string {
	parts := []string{page.Figure(res.DurationS, 1) + " s"}
	if res.Speed != nil {
		parts = append(parts, page.Figure(res.Speed.Min, 0)+" to "+page.Figure(res.Speed.Max, 0)+" rpm")
	}
	parts = append(parts, "sync "+string(res.Sync))
	if n := len(res.Findings); n > 0 {
		parts = append(parts, page.Count(n, "finding"))
	}
	return strings.Join(parts, ", ")
}

func sizeWords(n int64) string {
	for i, unit := range []string{" GiB", " MiB", " KiB"} {
		if one := int64(1) << (30 - 10*i); n >= one {
			return page.Figure(float64(n)/float64(one), 1) + unit
		}
	}
	return page.Figure(float64(n), 0) + " bytes"
}

// uploadPost takes a recorded file in and begins to read it. Where it cannot be read now it is kept all the same: a
// recording may not come again.
func (r *Room) uploadPost(q *page.Request, j *shelf.Job) error {
	f, err := r.Receive(q, j)
	if err != nil {
		return err
	}
	if err := r.read(q.By, j.ID, j.Card, f, nil); err != nil {
		r.queue.refuse(j.ID, f, "Stored, but not read yet. "+err.Error())
	}
	return q.Done(j.Path("/captures"))
}
