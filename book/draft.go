package book

import (
	"encoding/base32"
	"encoding/json"
	"fmt"
	"io"
	"mime"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"
)

// Lengths in bytes that the single fields may have.
const (
	maxWho  = 200
	maxKind = 64
	maxKey  = 100
	maxName = 255 // attachment names
	maxText = 500 // job name, owner, engine, shop
)

// settled checks a draft and gives the event it would become, without place, time and hashes.
func settled(d Draft) (Event, error) {
	if err := checkWord("who", d.Who, maxWho); err != nil {
		return Event{}, err
	}
	if err := checkKind(d.Kind); err != nil {
		return Event{}, err
	}
	if d.Key != "" {
		if err := checkWord("key", d.Key, maxKey); err != nil {
			return Event{}, err
		}
	}
	if !d.At.IsZero() {
		if err := checkTime(d.At); err != nil {
			return Event{}, err
		}
	}
	payload := d.Payload
	if len(payload) == 0 {
		payload = json.RawMessage("{}")
	}
	payload, err := settledPayload(d.Kind, payload)
	if err != nil {
		return Event{}, err
	}
	return Event{Who: d.Who, Kind: d.Kind, Key: d.Key, At: d.At, Payload: payload}, nil
}

func settledPayload(kind Kind, payload []byte) ([]byte, error) {
	if len(payload) > 4*MaxPayload {
		return nil, fmt.Errorf("%s payload – %w: %d bytes – at most %d; store large things as attachments", kind,
			ErrTooLarge, len(payload), MaxPayload)
	}
	c, err := Canonical(payload, MaxDepth)
	if err != nil {
		return nil, fmt.Errorf("%s payload – %w", kind, err)
	}
	if len(c) > MaxPayload {
		return nil, fmt.Errorf("%s payload – %w: %d bytes – at most %d; store large things as attachments", kind,
			ErrTooLarge, len(c), MaxPayload)
	}
	if c[0] != '{' {
		return nil, fmt.Errorf("%s payload – %w: %s – send a JSON object", kind, ErrBadInput, clip(string(c), 40))
	}
	return c, checkPayload(kind, c)
}

// checkPayload checks the few keys that the book itself relies on; all else is for the reader of the event.
func checkPayload(kind Kind, payload []byte) error {
	switch kind {
	case KindJobCreated, KindJobDescribed:
		var p described
		if err := json.Unmarshal(payload, &p); err != nil {
			return fmt.Errorf("%s payload – %w: name, owner, contact, engine, shop and bay – write them as strings",
				kind, ErrBadInput)
		}
		for _, f := range []struct {
			key   string
			value *string
		}{{"name", p.Name}, {"owner", p.Owner}, {"contact", p.Contact}, {"engine", p.Engine}, {"shop", p.Shop},
			{"bay", p.Bay}} {
			if f.value != nil && len(*f.value) > maxText {
				return fmt.Errorf("%s payload, %s – %w: %d bytes – at most %d", kind, f.key, ErrTooLarge,
					len(*f.value), maxText)
			}
		}
		if named := p.Name != nil && strings.TrimSpace(*p.Name) != ""; !named &&
			(p.Name != nil || kind == KindJobCreated) {
			return fmt.Errorf("%s payload – %w: name is empty – give the job a name", kind, ErrBadInput)
		}
	case KindAttachmentAdded:
		_, err := readAttachment(payload)
		return err
	case KindAttachmentDiscarded:
		_, err := readDiscarded(payload)
		return err
	}
	return nil
}

// attached is the payload of attachment.added.
type attached struct {
	SHA256    Hash   `json:"sha256"`
	Name      string `json:"name"`
	MediaType string `json:"media_type"`
	Size      int64  `json:"size"`
}

func readAttachment(payload []byte) (attached, error) {
	var a attached
	if err := json.Unmarshal(payload, &a); err != nil {
		return a, fmt.Errorf("%s payload – %w: sha256, name, media_type or size – %v", KindAttachmentAdded,
			ErrBadInput, err)
	}
	if a.SHA256 == (Hash{}) || a.Size < 0 {
		return a, fmt.Errorf("%s payload – %w: sha256 is missing or size is below 0 – store the file first",
			KindAttachmentAdded, ErrBadInput)
	}
	if err := checkFileName(a.Name); err != nil {
		return a, err
	}
	return a, checkMediaType(a.MediaType)
}

// checkFileName wants a bare name. The name is only ever shown, but what looks like a path is a mistake or an attack.
func checkFileName(name string) error {
	if err := checkWord("attachment name", name, maxName); err != nil {
		return err
	}
	if strings.ContainsAny(name, `/\`) || name == "." || name == ".." {
		return fmt.Errorf("attachment name %q – %w: it holds a path – send the bare file name", clip(name, 60),
			ErrBadInput)
	}
	return nil
}

func checkMediaType(s string) error {
	if t, _, err := mime.ParseMediaType(s); err != nil || !strings.Contains(t, "/") || len(s) > maxName {
		return fmt.Errorf("media type %q – %w: not a media type – send one such as image/jpeg", clip(s, 60),
			ErrBadInput)
	}
	return nil
}

// checkWord wants a short line of text: UTF-8, not blank, no control characters. Any script, quotes and markup are
// fine.
func checkWord(what, s string, most int) error {
	switch {
	case strings.TrimSpace(s) == "":
		return fmt.Errorf("%s – %w: empty – fill it in", what, ErrBadInput)
	case len(s) > most:
		return fmt.Errorf("%s – %w: %d bytes – at most %d", what, ErrTooLarge, len(s), most)
	case !utf8.ValidString(s):
		return fmt.Errorf("%s – %w: not UTF-8 – send UTF-8 text", what, ErrBadInput)
	case strings.ContainsFunc(s, unicode.IsControl):
		return fmt.Errorf("%s – %w: control character in %q – send one line of text", what, ErrBadInput, clip(s, 60))
	}
	return nil
}

func checkKind(k Kind) error {
	ok := len(k) > 0 && len(k) <= maxKind && k[0] >= 'a' && k[0] <= 'z'
	for i := range len(k) {
		c := k[i]
		ok = ok && ('a' <= c && c <= 'z' || '0' <= c && c <= '9' || c == '.' || c == '_' || c == '-')
	}
	if !ok {
		return fmt.Errorf("kind %q – %w: not a kind – use a-z, 0-9, point, dash and underline, a "+
			"letter first, at most %d", clip(string(k), 60), ErrBadInput, maxKind)
	}
	return nil
}

func checkTime(t time.Time) error {
	if y := t.UTC().Year(); y < 1970 || y > 9999 {
		return fmt.Errorf("time %s – %w: the year must lie from 1970 to 9999 – set the clock",
			t.UTC().Format(time.RFC3339), ErrBadInput)
	}
	return nil
}

const idLength = 16 // characters, 80 random bits

// newID makes a job id of 16 characters a-z and 2-7, safe in a URL, a file name and read aloud.
func newID(random io.Reader) (string, error) {
	var raw [idLength * 5 / 8]byte
	if _, err := io.ReadFull(random, raw[:]); err != nil {
		return "", fmt.Errorf("job id – no random bytes – try again: %w", err)
	}
	return strings.ToLower(base32.StdEncoding.EncodeToString(raw[:])), nil
}

func checkID(id string) error {
	ok := len(id) == idLength
	for i := range len(id) {
		ok = ok && ('a' <= id[i] && id[i] <= 'z' || '2' <= id[i] && id[i] <= '7')
	}
	if !ok {
		return fmt.Errorf("job %q – %w – take the id from the job list", clip(id, 40), ErrNoJob)
	}
	return nil
}
