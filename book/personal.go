package book

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"io"
	"maps"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/go-json-experiment/json/jsontext"
)

// saltSize is how many random bytes stand before a personal value when its commitment is made: as many as no one can
// try out.
const saltSize = 16

// personal is one value that may have to be forgotten: a row of the table of that name.
type personal struct {
	path   string // of {"sealed": …} in the payload as stored, a JSON Pointer (RFC 6901)
	salt   []byte // nil once erased
	value  string
	clear  bool      // the event was hashed with the value in it, by a release that did not seal
	erased time.Time // of the event that erased it; zero while it is there
}

// sealed is the payload of an event as it is stored, with the values that are kept beside it. Event.Payload has them
// filled in.
type sealed struct {
	payload []byte // canonical; {"sealed": commitment} stands for a value
	values  []personal
}

// commitment is what stands in a sealed payload: SHA-256 of the salt and behind it the value in UTF-8.
func commitment(salt []byte, value string) Hash {
	return sha256.Sum256(append(bytes.Clone(salt), value...))
}

// shown is the value, or what stands in its place.
func (p personal) shown() string {
	if p.erased.IsZero() {
		return p.value
	}
	return "erased on " + p.erased.UTC().Format("2 Jan 2006")
}

// span is a personal part of a text, from byte to byte.
type span struct{ from, to int }

// marked is a name that the writer of a note put between double square brackets.
var marked = regexp.MustCompile(`\[\[([^\[\]\n]*[^\[\]\s][^\[\]\n]*)\]\]`)

// personalSpans gives the personal parts of a member of a payload, and whether it is personal altogether.
func personalSpans(kind Kind, members map[string]json.RawMessage, key, text string) (spans []span, altogether bool) {
	switch {
	case kind == KindJobCreated || kind == KindJobDescribed:
		return nil, (key == "owner" || key == "contact") && strings.TrimSpace(text) != ""
	case kind == KindCardSaved:
		if key == "yaml" {
			return ownerSpans(text), false
		}
	case kind == KindProofSigned && key == "name":
		var role string
		_ = json.Unmarshal(members["role"], &role)
		return nil, forCustomer(role) && strings.TrimSpace(text) != ""
	case key == "text" || key == "note" || key == "reason" || key == "proof":
		for _, m := range marked.FindAllStringSubmatchIndex(text, -1) {
			spans = append(spans, span{m[2], m[3]})
		}
	}
	return spans, false
}

// forCustomer reports whether a role in which somebody signs is that of the owner and not of the shop.
func forCustomer(role string) bool {
	for w := range strings.FieldsSeq(plain(role)) {
		if w == "customer" || w == "owner" || w == "client" {
			return true
		}
	}
	return false
}

// seal takes the personal values out of a canonical payload. nil: there are none.
func seal(kind Kind, payload []byte, random io.Reader, clear bool) (*sealed, error) {
	var members map[string]json.RawMessage
	if json.Unmarshal(payload, &members) != nil {
		return nil, nil // kept as it is, like all that this release cannot read
	}
	var s sealed
	take := func(path, value string) ([]byte, error) {
		p := personal{path: path, salt: make([]byte, saltSize), value: value, clear: clear}
		if _, err := io.ReadFull(random, p.salt); err != nil {
			return nil, fmt.Errorf("salt – no random bytes – try again: %w", err)
		}
		s.values = append(s.values, p)
		return append(appendText([]byte(`{"sealed":`), commitment(p.salt, value).String()), '}'), nil
	}
	for _, key := range slices.Sorted(maps.Keys(members)) {
		var text string
		if json.Unmarshal(members[key], &text) != nil {
			continue
		}
		spans, altogether := personalSpans(kind, members, key, text)
		if altogether {
			one, err := take("/"+key, text)
			if err != nil {
				return nil, err
			}
			members[key] = one
			continue
		}
		if len(spans) == 0 {
			continue
		}
		out, n, end := []byte(`{"parts":[`), 0, 0
		for _, at := range spans {
			if n > 0 {
				out = append(out, ',')
			}
			one, err := take(fmt.Sprintf("/%s/parts/%d", key, n+1), text[at.from:at.to])
			if err != nil {
				return nil, err
			}
			out = append(append(appendText(out, text[end:at.from]), ','), one...)
			n, end = n+2, at.to
		}
		members[key] = append(appendText(append(out, ','), text[end:]), `]}`...)
	}
	if len(s.values) == 0 {
		return nil, nil
	}
	var err error
	s.payload, err = joined(members)
	return &s, err
}

// joined makes a canonical object.
func joined(members map[string]json.RawMessage) ([]byte, error) {
	out := []byte{'{'}
	for key, raw := range members {
		if len(out) > 1 {
			out = append(out, ',')
		}
		out = append(append(appendText(out, key), ':'), raw...)
	}
	v := jsontext.Value(append(out, '}'))
	err := v.Canonicalize()
	return v, err
}

// parts are a text of which some is sealed.
type parts struct {
	Parts []json.RawMessage `json:"parts"`
}

// filled gives the payload with its values, or with the words that stand in their place.
func (s *sealed) filled() ([]byte, error) {
	var members map[string]json.RawMessage
	if err := json.Unmarshal(s.payload, &members); err != nil {
		return nil, err
	}
	texts := map[string]*parts{}
	for _, v := range s.values {
		key, n, err := v.place()
		if err != nil {
			return nil, err
		}
		if n < 0 {
			members[key] = appendText(nil, v.shown())
			continue
		}
		if texts[key] == nil {
			texts[key] = &parts{}
			if err := json.Unmarshal(members[key], texts[key]); err != nil {
				return nil, err
			}
		}
		if n >= len(texts[key].Parts) {
			return nil, fmt.Errorf("%s – no such part", v.path)
		}
		texts[key].Parts[n] = appendText(nil, v.shown())
	}
	for key, p := range texts {
		var whole strings.Builder
		for _, raw := range p.Parts {
			var one string
			if err := json.Unmarshal(raw, &one); err != nil {
				return nil, err
			}
			whole.WriteString(one)
		}
		members[key] = appendText(nil, whole.String())
	}
	return joined(members)
}

// place takes a path apart: the member, and the number of the part of it, -1 for all of it.
func (p personal) place() (key string, part int, err error) {
	key, rest, isPart := strings.Cut(strings.TrimPrefix(p.path, "/"), "/parts/")
	part = -1
	if isPart {
		part, err = strconv.Atoi(rest)
	}
	if err != nil || key == "" || strings.ContainsAny(key, "/~") || isPart && part < 0 {
		return "", 0, fmt.Errorf("%q leads to no personal value", p.path)
	}
	return key, part, nil
}

// flaw says what is wrong with sealed values: a commitment is missing or does not fit.
func (s *sealed) flaw() string {
	var members map[string]json.RawMessage
	if json.Unmarshal(s.payload, &members) != nil {
		return "personal values cannot be filled in"
	}
	for i, v := range s.values {
		key, n, err := v.place()
		raw := members[key]
		if err == nil && n >= 0 {
			var p parts
			if err = json.Unmarshal(raw, &p); err == nil && n < len(p.Parts) {
				raw = p.Parts[n]
			}
		}
		var c struct {
			Sealed *Hash `json:"sealed"`
		}
		if err != nil || json.Unmarshal(raw, &c) != nil || c.Sealed == nil {
			return "a personal value has no commitment at " + v.path
		}
		if v.erased.IsZero() && *c.Sealed != commitment(v.salt, v.value) {
			return "the personal value at " + v.path + " does not fit its commitment"
		}
		same := func(o personal) bool { return o.path == v.path }
		if v.clear != s.values[0].clear || slices.ContainsFunc(s.values[:i], same) {
			return "the personal value at " + v.path + " is kept in two ways"
		}
	}
	if _, err := s.filled(); err != nil {
		return "personal values cannot be filled in"
	}
	return ""
}

// hashedClear reports whether the hash was taken with the values in their places.
func (s *sealed) hashedClear() bool { return len(s.values) > 0 && s.values[0].clear }

// unprovable reports whether the hash of an event cannot be made anew: it was taken of a value that was erased.
func (e Event) unprovable() bool {
	return e.sealed != nil && e.sealed.hashedClear() &&
		slices.ContainsFunc(e.sealed.values, func(p personal) bool { return !p.erased.IsZero() })
}

// hashed is the payload that the event's hash is taken of.
func (e Event) hashed() []byte {
	if e.sealed != nil && !e.sealed.hashedClear() {
		return e.sealed.payload
	}
	return e.Payload
}

// stored is the payload as the table events keeps it.
func (e Event) stored() []byte {
	if e.sealed != nil {
		return e.sealed.payload
	}
	return e.Payload
}

// unsealed finds a member that should have been filled in: its values are missing.
func (e Event) unsealed() bool {
	var members map[string]json.RawMessage
	_ = json.Unmarshal(e.Payload, &members)
	for _, raw := range members {
		var c struct {
			Sealed *Hash             `json:"sealed"`
			Parts  []json.RawMessage `json:"parts"`
		}
		if len(raw) > 0 && raw[0] == '{' && json.Unmarshal(raw, &c) == nil && c.Sealed != nil {
			return true
		}
		for _, part := range c.Parts {
			var one struct {
				Sealed *Hash `json:"sealed"`
			}
			if len(part) > 0 && part[0] == '{' && json.Unmarshal(part, &one) == nil && one.Sealed != nil {
				return true
			}
		}
	}
	return false
}

// seal takes the personal values out of an event's payload. clear: it was hashed with them, by a release before.
func (b *Book) seal(e *Event, clear bool) (err error) {
	b.randomMu.Lock()
	defer b.randomMu.Unlock()
	e.sealed, err = seal(e.Kind, e.Payload, b.random, clear)
	return err
}

// selected are the columns of an event with its personal values, which scanEvent reads.
const selected = eventColumns + `, (SELECT ` + asArrays + ` FROM personal WHERE event = events.seq)`

// asArrays makes a JSON array of arrays of the rows of personal values; PostgreSQL calls it otherwise.
const asArrays = `json_group_array(json_array(path, hex(salt), value, clear, erased))`

// fill gives an event that was read its personal values, which come as an array of rows in JSON.
func (e *Event) fill(rows []byte) error {
	if len(rows) <= len(`[]`) {
		return nil
	}
	var all [][5]any
	if err := json.Unmarshal(rows, &all); err != nil {
		return fmt.Errorf("%w: personal values: %w", errUnreadable, err)
	}
	s := &sealed{payload: e.Payload}
	for _, r := range all {
		p := personal{}
		var salt string
		var clear float64
		p.path, _ = r[0].(string)
		salt, _ = r[1].(string)
		p.value, _ = r[2].(string)
		clear, _ = r[3].(float64)
		p.clear = clear != 0
		if at, ok := r[4].(float64); ok { // microseconds: a double holds them for the next two centuries
			p.erased, p.value = fromMicros(int64(at)), ""
		} else {
			var err error
			if p.salt, err = hex.DecodeString(salt); err != nil {
				return fmt.Errorf("%w: salt of %s", errUnreadable, p.path)
			}
		}
		s.values = append(s.values, p)
	}
	slices.SortFunc(s.values, func(a, b personal) int { return strings.Compare(a.path, b.path) })
	e.sealed = s
	if payload, err := s.filled(); err == nil { // else Check says what is wrong
		e.Payload = payload
	}
	return nil
}

// savePersonal puts the values of a stored event beside it.
func savePersonal(ctx context.Context, x executor, e Event) error {
	if e.sealed == nil {
		return nil
	}
	for _, p := range e.sealed.values {
		var salt, value, erased any = p.salt, p.value, nil
		if !p.erased.IsZero() {
			salt, value, erased = nil, nil, toMicros(p.erased)
		}
		if err := x.exec(ctx, `INSERT INTO personal (event, path, clear, salt, value, erased) VALUES (?, ?, ?, ?, ?, ?)`,
			e.Seq, p.path, p.clear, salt, value, erased); err != nil {
			return err
		}
	}
	return nil
}

// sealBatch is how many events are read at once while a book of an earlier schema is sealed.
const sealBatch = 2000

// sealAll takes the personal values out of all events of a book that did not seal. It is part of step 4: no event is
// changed ever after. Their hashes stay, for they were taken of the values.
func sealAll(ctx context.Context, x executor, random io.Reader) error {
	if err := x.exec(ctx, `DROP TRIGGER events_no_update`); err != nil {
		return err
	}
	for after := int64(0); ; {
		rows, err := x.rows(ctx, `SELECT `+eventColumns+`, '' FROM events WHERE seq > ? ORDER BY seq LIMIT ?`, after,
			sealBatch)
		if err != nil {
			return err
		}
		events, err := collect(rows, scanEvent)
		if err != nil {
			return err
		}
		if len(events) == 0 {
			break
		}
		for _, e := range events {
			after = e.Seq
			if e.sealed, err = seal(e.Kind, e.Payload, random, true); err != nil {
				return err
			}
			if e.sealed == nil {
				continue
			}
			if err := x.exec(ctx, `UPDATE events SET payload = ? WHERE seq = ?`, string(e.sealed.payload), e.Seq); err != nil {
				return err
			}
			if err := savePersonal(ctx, x, e); err != nil {
				return err
			}
		}
	}
	return x.exec(ctx, eventsNeverChange)
}

// ownerKey is where a job card says whose engine it is.
var ownerKey = regexp.MustCompile(`(?m)(^[ \t]*|[{,][ \t]*)["']?owner["']?[ \t]*:([ \t]+|$)`)

// ownerSpans finds the owner's name in the text of a job card, as far as YAML lets it go: in quotes, plain, on lines of
// its own.
func ownerSpans(text string) []span {
	var all []span
	for _, m := range ownerKey.FindAllStringSubmatchIndex(text, -1) {
		lead, from := text[m[2]:m[3]], m[1]
		inFlow := strings.ContainsAny(lead, "{,")
		if len(all) > 0 && m[0] < all[len(all)-1].to {
			continue
		}
		if at := valueEnd(text, from, len(lead), inFlow); at.to > at.from {
			all = append(all, at)
		}
	}
	return all
}

// valueEnd gives where the YAML value lies that begins at from, under a key that stands so many columns in.
func valueEnd(text string, from, indent int, inFlow bool) span {
	line := func(at int) int { // the end of the line
		if n := strings.IndexByte(text[at:], '\n'); n >= 0 {
			return at + n
		}
		return len(text)
	}
	if from < len(text) && (text[from] == '"' || text[from] == '\'') {
		quote := text[from]
		for i := from + 1; i < len(text); i++ {
			switch {
			case quote == '"' && text[i] == '\\':
				i++
			case text[i] == quote && quote == '\'' && i+1 < len(text) && text[i+1] == quote:
				i++
			case text[i] == quote:
				return span{from, i + 1}
			}
		}
	}
	if inFlow {
		end := from + strings.IndexAny(text[from:]+"}", ",}\n")
		return trimmed(text, from, end)
	}
	end := line(from)
	folded := end
	for folded < len(text) { // what stands further in on the next lines belongs to it
		next := line(folded + 1)
		one := text[folded+1 : next]
		words := strings.TrimLeft(one, " \t")
		if words != "" && words != "\r" && len(one)-len(words) <= indent {
			break
		}
		folded = next
	}
	whole := trimmed(text, from, folded)
	if whole.to > end {
		return whole
	}
	if n := strings.Index(" "+text[from:end], " #"); n >= 0 {
		end = from + n
	}
	return trimmed(text, from, end)
}

func trimmed(text string, from, to int) span {
	for from < to && strings.IndexByte(" \t\r\n", text[from]) >= 0 {
		from++
	}
	for to > from && strings.IndexByte(" \t\r\n", text[to-1]) >= 0 {
		to--
	}
	return span{from, to}
}

// says reports whether a recorded event has the payload of a draft. What was erased of it may have been anything.
func (e Event) says(draft []byte) bool {
	if e.sealed == nil || bytes.Equal(e.Payload, draft) {
		return bytes.Equal(e.Payload, draft)
	}
	again, err := seal(e.Kind, draft, zeros{}, false)
	if err != nil || again == nil || len(again.values) != len(e.sealed.values) {
		return false
	}
	for i, v := range again.values {
		j := slices.IndexFunc(e.sealed.values, func(o personal) bool { return o.path == v.path })
		if j < 0 {
			return false
		}
		if was := e.sealed.values[j]; !was.erased.IsZero() {
			again.values[i].value, again.values[i].erased = "", was.erased
		}
	}
	payload, err := again.filled()
	return err == nil && bytes.Equal(e.Payload, payload)
}

// zeros is where salt comes from that nobody keeps.
type zeros struct{}

func (zeros) Read(p []byte) (int, error) { clear(p); return len(p), nil }

// maxStored is the most bytes that a sealed payload may take.
const maxStored = 4 * MaxPayload

// sealed reads the personal values of an exported event and puts them, or what stands for them, into its payload.
func (x *exported) sealed() (*sealed, error) {
	if len(x.Personal) == 0 {
		return nil, nil
	}
	s := &sealed{payload: bytes.Clone(x.Payload)}
	for _, p := range x.Personal {
		v := personal{path: p.Path, value: p.Value, clear: p.Clear}
		var err error
		if p.Erased != "" {
			v.erased, err = time.Parse(timeForm, p.Erased)
			if err != nil || p.Salt != "" || p.Value != "" {
				return nil, fmt.Errorf("%s – %w: erased, and not", p.Path, ErrBadInput)
			}
		} else if v.salt, err = hex.DecodeString(p.Salt); err != nil || len(v.salt) != saltSize {
			return nil, fmt.Errorf("%s – %w: salt", p.Path, ErrBadInput)
		}
		s.values = append(s.values, v)
	}
	if flaw := s.flaw(); flaw != "" {
		return nil, fmt.Errorf("%w: %s", ErrBadInput, flaw)
	}
	payload, err := s.filled()
	x.Payload = payload
	return s, err
}
