package book

import (
	"encoding/hex"
	"encoding/json"
	"fmt"
	"time"
)

// Version counts the events of one job: a job just made is at version 1, and
// each event moves it by one.
type Version int64

// AnyVersion given to Append says that the event is right whatever was
// recorded meanwhile: a reading added, a photo, a note.
const AnyVersion Version = -1

// Kind says what happened. Kinds are open: one that this release does not know is kept, hashed
// and exported like any other, and shown as unknown.
type Kind string

// The kinds this release knows, with the payload keys each one uses. A reading, step, note or file may bear two more:
// configuration, the count of changes of the engine that its screen showed, and taken_at, the time by the clock of that
// screen.
const (
	// name, owner, contact, engine, shop, room (true: a practice room, kept off the list of jobs): always version 1,
	// made by CreateJob
	KindJobCreated Kind = "job.created"
	// name, owner, contact, engine, shop, bay; person: in whose hands it is; waiting: for what it waits, until work
	// goes on. A key left out keeps its value.
	KindJobDescribed Kind = "job.described"
	// nothing: all personal values of the job's events before it are erased
	KindPersonErased Kind = "job.person_erased"
	KindJobArchived  Kind = "job.archived" // reason
	KindJobReopened  Kind = "job.reopened" // reason
	KindCardSaved    Kind = "card.saved"   // yaml, from: the job whose card it began with
	// id, rpm, shown_deg, locked_deg, u_deg, allowance_us, wire, confirmed, note, step, brought, recording, who
	KindReadingAdded     Kind = "reading.added"
	KindReadingWithdrawn Kind = "reading.withdrawn" // id, reason
	KindCorrectionMade   Kind = "correction.made"   // housing_deg, direction, allowance_us, note, who
	KindStepDone         Kind = "step.done"         // step, who, proof
	KindStepTried        Kind = "step.tried"        // step, who, proof: a check that failed on an engine that turned
	KindStepUndone       Kind = "step.undone"       // step, who, reason
	KindStepOverride     Kind = "step.override"     // step, who, reason, proof
	KindAttachmentAdded  Kind = "attachment.added"  // sha256, name, media_type, size: the file is already in the store
	KindCaptureRead      Kind = "capture.read"      // sha256, summary
	KindEvidenceSaved    Kind = "evidence.saved"    // any keys
	KindProofSigned      Kind = "proof.signed"      // name, role, verdict, and any more keys
	KindNoteAdded        Kind = "note.added"        // text
	// id, kind, name, number, checked, u, known, gone: of the shop's own chapter (ShopList), the last of an id counts
	KindInstrumentListed Kind = "instrument.listed"
	KindInstrumentUsed   Kind = "instrument.used"   // the same keys, as they were listed when it was picked
	KindInstrumentUnused Kind = "instrument.unused" // id

	// The simulated engine of a practice room; all of them name their attempt, counted from 1.
	KindRoomSet      Kind = "room.set"      // what stands on the bench: engine, exercise, hidden, seed
	KindRoomActed    Kind = "room.acted"    // acts in order, each with its step of the bench's time; upto
	KindRoomJudged   Kind = "room.judged"   // named, outcome
	KindRoomReleased Kind = "room.released" // the truth is told from here on
	// sha256, reason: the file's content was thrown away
	KindAttachmentDiscarded Kind = "attachment.discarded"
)

// Known reports whether this release knows the kind.
func (k Kind) Known() bool {
	switch k {
	case KindJobCreated, KindJobDescribed, KindPersonErased, KindJobArchived, KindJobReopened, KindCardSaved,
		KindReadingAdded, KindReadingWithdrawn, KindCorrectionMade,
		KindStepDone, KindStepTried, KindStepUndone, KindStepOverride,
		KindAttachmentAdded, KindCaptureRead, KindEvidenceSaved, KindProofSigned, KindNoteAdded,
		KindInstrumentListed, KindInstrumentUsed, KindInstrumentUnused,
		KindRoomSet, KindRoomActed, KindRoomJudged, KindRoomReleased, KindAttachmentDiscarded:
		return true
	}
	return false
}

// Hash is a SHA-256 digest. Its text form is 64 lower-case hexadecimal digits.
type Hash [32]byte

func (h Hash) String() string { return hex.EncodeToString(h[:]) }

// MarshalText gives the 64 hexadecimal digits.
func (h Hash) MarshalText() ([]byte, error) { return []byte(h.String()), nil }

// UnmarshalText reads exactly 64 lower-case hexadecimal digits.
func (h *Hash) UnmarshalText(text []byte) error {
	parsed, err := ParseHash(string(text))
	if err != nil {
		return err
	}
	*h = parsed
	return nil
}

// ParseHash reads exactly 64 lower-case hexadecimal digits.
func ParseHash(s string) (Hash, error) {
	var h Hash
	if len(s) != 2*len(h) {
		return h, fmt.Errorf("%w: hash of %d characters – a SHA-256 hash has 64", ErrBadInput, len(s))
	}
	for i := range len(s) {
		if c := s[i]; (c < '0' || c > '9') && (c < 'a' || c > 'f') {
			return h, fmt.Errorf("%w: hash %q – use the digits 0-9 and a-f only", ErrBadInput, s)
		}
	}
	_, err := hex.Decode(h[:], []byte(s))
	return h, err
}

// HostScreen is who did what was done at the computer's own screen, where no name was given.
const HostScreen = "host screen"

// Draft is an event about to be recorded.
type Draft struct {
	// Who did it: a name, with the device where there is one ("Ada Reed, phone 2"). Required.
	Who string
	// Kind says what happened. Required.
	Kind Kind
	// Payload is a JSON object, or empty for {}. It is stored in the canonical form of RFC 8785.
	Payload json.RawMessage
	// Key is made by the client (a UUID, say), once per thing done. Sending a draft again with the same key
	// records nothing new and gives back the first event. Optional.
	Key string
	// At is when it happened by the caller's clock; zero means the book's clock. A time earlier than that of the
	// job's last event is recorded as it is and flagged (Event.Back); order goes by version, never by time.
	At time.Time
}

// Event is one recorded thing. It never changes.
type Event struct {
	Seq     int64           `json:"seq"`                 // place in the whole book, from 1, without gaps; not part of the hash
	Job     string          `json:"job"`                 // job id
	Version Version         `json:"version"`             // place in the job, from 1, without gaps
	At      time.Time       `json:"at"`                  // UTC, whole microseconds
	Who     string          `json:"who"`                 //
	Kind    Kind            `json:"kind"`                //
	Key     string          `json:"key,omitempty"`       // as in Draft
	Payload json.RawMessage `json:"payload"`             // canonical JSON (RFC 8785)
	Back    bool            `json:"clock_back,omitzero"` // At is earlier than that of the event before in this job
	Prev    Hash            `json:"prev"`                // hash of the job's event before, zeros for the first
	Hash    Hash            `json:"hash"`                // of this event, see HashEvent

	// Repeated is true on the answer to a draft whose Key was seen before: this is the event recorded then.
	Repeated bool `json:"repeated,omitzero"`

	sealed *sealed // the personal values in Payload; nil: none
}
