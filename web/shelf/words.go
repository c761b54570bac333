package shelf

import (
	"cmp"
	"encoding/json"
	"strconv"
	"strings"

	"phasewright/book"
	"phasewright/web/page"
)

// titles are the titles of the job's steps by their identifiers; none without an order of work.
func (j *Job) titles() map[string]string {
	p, _, err := j.Order()
	if err != nil {
		return nil
	}
	titles := map[string]string{}
	for _, st := range p.Steps() {
		titles[string(st.ID)] = st.Title
	}
	return titles
}

// inWords says what an event is. What cannot be read of it stays empty; a step that the order of work does not have any
// more keeps its identifier.
func inWords(e book.Event, titles map[string]string) string {
	var p struct {
		Name, Reason, Text, Step, Verdict, Direction, Note string
		RPM                                                *float64
		Shown                                              *float64 `json:"shown_deg"`
		Locked                                             *float64 `json:"locked_deg"`
		Housing                                            *float64 `json:"housing_deg"`
		Allowance                                          *float64 `json:"allowance_us"`
		Wire                                               int
	}
	_ = json.Unmarshal(e.Payload, &p)
	step := cmp.Or(titles[p.Step], p.Step)
	said := func(parts ...string) string { return page.Joined(": ", parts...) }
	switch e.Kind {
	case book.KindJobCreated:
		return "job started"
	case book.KindJobDescribed:
		var now struct{ Name, Owner, Contact, Engine, Shop, Bay, Person, Waiting *string }
		_ = json.Unmarshal(e.Payload, &now)
		told := ""
		for _, f := range []struct {
			label string
			value *string
		}{{"name", now.Name}, {"owner", now.Owner}, {"contact", now.Contact}, {"engine", now.Engine},
			{"shop", now.Shop}, {"bay", now.Bay}, {"in hand by", now.Person}, {"waiting for", now.Waiting}} {
			if f.value != nil {
				told = page.Joined("; ", told, f.label+" "+cmp.Or(*f.value, "none"))
			}
		}
		return said("corrected", told)
	case book.KindPersonErased:
		return "personal data erased: owner, contact, marked names"
	case book.KindAttachmentDiscarded:
		return said("content of a file thrown away", p.Reason)
	case book.KindJobArchived:
		return said("job put away", p.Reason)
	case book.KindJobReopened:
		return said("job taken up again", p.Reason)
	case book.KindCardSaved:
		return "job card saved"
	case book.KindReadingAdded:
		if p.RPM == nil || p.Shown == nil || p.Locked == nil {
			return "reading"
		}
		wire := ""
		if p.Wire > 1 {
			wire = ", on wire " + strconv.Itoa(p.Wire)
		}
		return "reading: light shows " + page.Degrees(*p.Shown) + " at " + page.Figure(*p.RPM, 0) +
			" rpm, locked at " + page.Degrees(*p.Locked) + wire
	case book.KindReadingWithdrawn:
		return said("reading withdrawn", p.Reason)
	case book.KindCorrectionMade:
		var did []string
		if p.Housing != nil && *p.Housing != 0 {
			did = append(did, "housing turned "+page.Degrees(*p.Housing)+" "+p.Direction)
		}
		if p.Allowance != nil {
			did = append(did, "delay allowance set to "+page.Figure(*p.Allowance, 0)+" µs")
		}
		if len(did) == 0 {
			did = append(did, "correction")
		}
		return page.Joined("; ", strings.Join(did, ", "), p.Note)
	case book.KindStepDone:
		return said("step done", step)
	case book.KindStepUndone:
		return said("step taken back", step, p.Reason)
	case book.KindStepOverride:
		return said("lock overridden", step, p.Reason)
	case book.KindAttachmentAdded:
		return said("file added", p.Name)
	case book.KindCaptureRead:
		return "capture read"
	case book.KindEvidenceSaved:
		return "evidence saved"
	case book.KindProofSigned:
		return "proof signed by " + p.Name + ": " + p.Verdict
	case book.KindNoteAdded:
		return "note: " + p.Text
	case book.KindInstrumentUsed:
		return said("measured with", p.Name)
	case book.KindInstrumentUnused:
		return said("not measured with", p.Name)
	}
	return "unknown to this release: " + string(e.Kind)
}
