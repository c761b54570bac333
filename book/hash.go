package book

import (
	"crypto/sha256"
	"strconv"
	"time"
)

// timeForm is how a time is written in an export and in what is hashed: UTC, always six decimals.
const timeForm = "2006-01-02T15:04:05.000000Z"

// HashEvent gives the hash of an event: SHA-256 of the RFC 8785 form of the JSON object with the members at, job, key
// (left out when empty), kind, payload, prev, version and who, where at is RFC 3339 in UTC with six decimals, prev the
// hash of the job's event before in hexadecimal (64 zeros for the first) and version a number. That is the event as an
// export shows it, without its hash and the personal values beside it: {"sealed": …} stands for each of those in the
// payload, except in an event of a release that did not seal. The payload must be canonical already.
func HashEvent(e Event) Hash {
	b := make([]byte, 0, 512+len(e.Payload))
	b = appendText(append(b, `{"at":`...), e.At.UTC().Format(timeForm))
	b = appendText(append(b, `,"job":`...), e.Job)
	if e.Key != "" {
		b = appendText(append(b, `,"key":`...), e.Key)
	}
	b = appendText(append(b, `,"kind":`...), string(e.Kind))
	b = append(append(b, `,"payload":`...), e.hashed()...)
	b = appendText(append(b, `,"prev":`...), e.Prev.String())
	b = strconv.AppendInt(append(b, `,"version":`...), int64(e.Version), 10)
	b = appendText(append(b, `,"who":`...), e.Who)
	return sha256.Sum256(append(b, '}'))
}

// fromMicros and toMicros carry times to and from the database, which keeps whole microseconds since 1970 UTC.
func fromMicros(us int64) time.Time { return time.UnixMicro(us).UTC() }
func toMicros(t time.Time) int64    { return t.UnixMicro() }
