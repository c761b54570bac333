package web

import (
	"encoding/json"
	"net/http"
	"strconv"
	"strings"

	"phasewright/book"
)

// indexEntry is one view of a job.
type indexEntry struct{ View, Path, Word string }

// index is the table of a job's views, in the order of the work.
var index = []indexEntry{
	{"job", "", "Where it stands"},
	{"card", "/card", "Job card"},
	{"sheet", "/sheet", "Set-up sheet"},
	{"spark", "/spark", "Coil and spark"},
	{"steps", "/steps", "Order of work"},
	{"readings", "/readings", "Readings"},
	{"captures", "/captures", "Captures"},
	{"suspects", "/suspects", "Suspects"},
	{"proof", "/proof", "Proof"},
}

// Index gives the table to the templates.
func (p *page) Index() []indexEntry { return index }

type jobBody struct {
	Lines    []jobLine
	Record   []recordLine // newest first
	Older    []recordLine // what is folded away
	Key      string
	CanWrite bool
}

// unfolded is how many events of the record are shown at once.
const unfolded = 8

// jobLine is one view of the job with how it stands.
type jobLine struct{ Path, Word, State, Mark string }

// recordLine is one event in words.
type recordLine struct{ At, Who, What string }

// jobPage is the front of a job: where it stands, what is next, and the record.
func (s *Server) jobPage(w http.ResponseWriter, r *http.Request, v *visit, j *job) error {
	b := jobBody{Key: s.newKey(), CanWrite: v.role >= Work, Lines: s.standing(j)}
	for i := len(j.Events) - 1; i >= 0; i-- {
		e := j.Events[i]
		b.Record = append(b.Record, recordLine{s.when(e.At), e.Who, s.told(j, e)})
	}
	if len(b.Record) > unfolded {
		b.Record, b.Older = b.Record[:unfolded], b.Record[unfolded:]
	}
	return s.render(w, r, v, page{View: "job", Title: j.Name, Where: "Where it stands", Job: j.head(), Live: true, Version: j.Version, Next: s.nextFor(j), Body: b})
}

// notePost adds a note to the record.
func (s *Server) notePost(w http.ResponseWriter, r *http.Request, v *visit, j *job) error {
	text := strings.TrimSpace(r.PostForm.Get("text"))
	if text == "" {
		return say(http.StatusUnprocessableEntity, "The note is empty.", "Write what is worth knowing next time, then add it.")
	}
	stamp, err := stampOf(r.PostForm.Get, j)
	if err != nil {
		return err
	}
	payload, err := stamp.On(map[string]string{"text": text})
	if err != nil {
		return err
	}
	if _, err := s.Book.Append(r.Context(), j.ID, book.AnyVersion, book.Draft{Who: v.who, Kind: book.KindNoteAdded,
		Payload: payload, Key: r.PostForm.Get("key")}); err != nil {
		return err
	}
	return done(w, r, "/job/"+j.ID)
}

// inWords says what an event is, for the record.
func inWords(e book.Event) string {
	var p struct {
		Name, Reason, Text, Step, Verdict, Direction, Note string
		RPM                                                *float64
		Shown                                              *float64 `json:"shown_deg"`
		Locked                                             *float64 `json:"locked_deg"`
		Housing                                            *float64 `json:"housing_deg"`
		Allowance                                          *float64 `json:"allowance_us"`
	}
	_ = json.Unmarshal(e.Payload, &p) // what cannot be read stays empty
	because := func(s string) string { return joinedBy(": ", s, p.Reason) }
	switch e.Kind {
	case book.KindJobCreated:
		return "job started"
	case book.KindJobDescribed:
		return "job described anew"
	case book.KindJobArchived:
		return because("job put away")
	case book.KindJobReopened:
		return because("job taken up again")
	case book.KindCardSaved:
		return "job card saved"
	case book.KindReadingAdded:
		if p.RPM != nil && p.Shown != nil && p.Locked != nil {
			return "reading: light shows " + deg(*p.Shown) + " at " + figure(*p.RPM, 0) + " rpm, locked at " + deg(*p.Locked)
		}
		return "reading"
	case book.KindReadingWithdrawn:
		return because("reading withdrawn")
	case book.KindCorrectionMade:
		var did []string
		if p.Housing != nil && *p.Housing != 0 {
			did = append(did, "housing turned "+deg(*p.Housing)+" "+p.Direction)
		}
		if p.Allowance != nil {
			did = append(did, "delay allowance set to "+figure(*p.Allowance, 0)+" µs")
		}
		if len(did) == 0 {
			did = append(did, "correction")
		}
		return joinedBy("; ", strings.Join(did, ", "), p.Note)
	case book.KindStepDone:
		return joinedBy(": ", "step done", p.Step)
	case book.KindStepUndone:
		return because(joinedBy(": ", "step taken back", p.Step))
	case book.KindStepOverride:
		return because(joinedBy(": ", "lock overridden", p.Step))
	case book.KindAttachmentAdded:
		return joinedBy(": ", "file added", p.Name)
	case book.KindCaptureRead:
		return "capture read"
	case book.KindEvidenceSaved:
		return "evidence saved"
	case book.KindProofSigned:
		return "proof signed by " + p.Name + ": " + p.Verdict
	case book.KindNoteAdded:
		return "note: " + p.Text
	}
	return "unknown to this release: " + string(e.Kind)
}

func joinedBy(sep, a, b string) string {
	if a == "" || b == "" {
		return a + b
	}
	return a + sep + b
}

// count says "1 reading", "3 readings".
func count(n int, one string) string {
	if n == 1 {
		return "1 " + one
	}
	return strconv.Itoa(n) + " " + one + "s"
}
