package book

import (
	"encoding/json"
	"strconv"
	"strings"
	"time"
)

// described is the payload of job.created and job.described; a missing key keeps what was there.
type described struct {
	Name    *string `json:"name"`
	Owner   *string `json:"owner"`
	Contact *string `json:"contact"`
	Engine  *string `json:"engine"`
	Shop    *string `json:"shop"`
	Room    bool    `json:"room"`
	Bay     *string `json:"bay"`
	Person  *string `json:"person"`
	Waiting *string `json:"waiting"`
}

// roomStatus is a practice room's for good, and no job's: what it stands for is derived from the room's first event.
const roomStatus = "practice room"

// IsRoom reports whether this is a practice room and no engine in the shop.
func (j Job) IsRoom() bool { return j.Status == roomStatus }

// The two sorts of things that count once however often they are recorded.
const (
	sortReading = "reading"
	sortStep    = "step"
)

// marks remembers which readings and steps of a job count at present.
type marks interface {
	live(sort, id string) (bool, error)
	set(sort, id string, live bool) error
}

// fold moves the list line j on by event e. It is the only place where derived data is made: Append, Rebuild,
// Check and Import all come here. It never fails over a payload: what it cannot read counts as absent.
func fold(j *Job, m marks, e Event) error {
	if j.IsRoom() {
		defer func() { j.Status = roomStatus }()
	}
	j.ID, j.Version, j.Head = e.Job, e.Version, e.Hash
	if e.Version == 1 || e.At.After(j.WorkedAt) {
		j.WorkedAt = e.At
	}
	j.LastAt, j.LastKind, j.LastWho, j.LastSeq = e.At, e.Kind, e.Who, e.Seq
	if d := deedsOf(e); d != (deeds{entries: 1}) {
		j.Waiting, j.WaitingAt = "", time.Time{}
		if who := worker(e); who != "" {
			j.Person = who
		}
	}
	switch e.Kind {
	case KindJobCreated, KindJobDescribed:
		var p described
		_ = json.Unmarshal(e.Payload, &p)
		for _, f := range []struct{ to, from *string }{{&j.Name, p.Name}, {&j.Owner, p.Owner}, {&j.Engine, p.Engine},
			{&j.Shop, p.Shop}, {&j.Bay, p.Bay}, {&j.Person, p.Person}} {
			if f.from != nil {
				*f.to = noNUL(*f.from)
			}
		}
		if p.Waiting != nil {
			j.Waiting, j.WaitingAt = noNUL(*p.Waiting), e.At
		}
		if j.Waiting == "" {
			j.WaitingAt = time.Time{}
		}
		if e.Kind == KindJobCreated {
			j.CreatedAt, j.OpenedAt, j.Status = e.At, e.At, "started"
			if p.Room {
				j.Status = roomStatus
			}
		}
	case KindJobArchived:
		j.Archived = true // it stands as it stood
	case KindJobReopened:
		j.Archived, j.Status, j.OpenedAt = false, "opened again", e.At
	case KindCardSaved:
		j.Status = "card saved"
	case KindReadingAdded:
		j.Status = "readings taken"
		return count(&j.Readings, m, sortReading, readingID(e), true)
	case KindReadingWithdrawn:
		return count(&j.Readings, m, sortReading, readingID(e), false)
	case KindCorrectionMade:
		j.Corrections++
		j.Status = "corrected, read again"
	case KindStepDone, KindStepOverride:
		j.Status = "work under way"
		return count(&j.StepsDone, m, sortStep, field(e.Payload, "step"), true)
	case KindStepUndone:
		j.Status = "work under way"
		return count(&j.StepsDone, m, sortStep, field(e.Payload, "step"), false)
	case KindStepTried:
		j.Status = "work under way"
	case KindAttachmentAdded:
		j.Attachments++
	case KindCaptureRead:
		j.Status = "capture read"
	case KindEvidenceSaved:
		j.Status = "looking for a fault"
	case KindProofSigned:
		j.Status = "proof signed"
		if v := field(e.Payload, "verdict"); v != "" {
			j.Status += ": " + clip(v, 40)
		}
	case KindNoteAdded:
		j.Notes++
	}
	return nil
}

// count moves n by one when the thing changes between counting and not counting.
func count(n *int, m marks, sort, id string, live bool) error {
	was, err := m.live(sort, id)
	if err != nil || was == live {
		return err
	}
	if live {
		*n++
	} else {
		*n--
	}
	return m.set(sort, id, live)
}

// readingID is the reading's own id, or its version where the client gave none.
func readingID(e Event) string {
	if id := field(e.Payload, "id"); id != "" {
		return id
	}
	return "version " + strconv.FormatInt(int64(e.Version), 10)
}

// field gives a string member of a payload, or a number as text, or "".
func field(payload []byte, key string) string {
	var p map[string]json.RawMessage
	if json.Unmarshal(payload, &p) != nil {
		return ""
	}
	raw := p[key]
	var s string
	if json.Unmarshal(raw, &s) == nil {
		return noNUL(s)
	}
	var n json.Number
	if json.Unmarshal(raw, &n) == nil {
		return n.String()
	}
	return ""
}

// noNUL takes a sign out that no text of PostgreSQL can hold.
func noNUL(s string) string { return strings.ReplaceAll(s, "\x00", "\ufffd") }

// memoryMarks keeps marks while a whole job is folded.
type memoryMarks map[[2]string]bool

func (m memoryMarks) live(sort, id string) (bool, error) { return m[[2]string{sort, id}], nil }

func (m memoryMarks) set(sort, id string, live bool) error {
	m[[2]string{sort, id}] = live
	return nil
}
