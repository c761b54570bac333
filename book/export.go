package book

import (
	"archive/zip"
	"bytes"
	"context"
	_ "embed"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strings"
	"time"
)

// The export of one job is a zip file of job.json and, for each attachment that the job keeps, files/ with its SHA-256
// as name.
const (
	documentName  = "job.json"
	filesPrefix   = "files/"
	exportFormat  = "phasewright job"
	exportVersion = 2 // 1: nothing was sealed
)

// document is job.json.
type document struct {
	Format  string     `json:"format" jsonschema:"says that this is an exported job"`
	Version int        `json:"format_version" jsonschema:"version of this format"`
	Job     string     `json:"job" jsonschema:"id of the job"`
	Events  []exported `json:"events" jsonschema:"all events of the job, oldest first"`
}

// exported is an event in job.json. Without its hash, in the form of RFC 8785, it is what the hash is taken of.
type exported struct {
	At       string             `json:"at" jsonschema:"when, by the clock of whoever recorded it: UTC, six decimals"`
	Hash     Hash               `json:"hash" jsonschema:"SHA-256 of this object without the members hash and personal, in the form of RFC 8785; where personal says clear, with the values in their places"`
	Job      string             `json:"job" jsonschema:"id of the job"`
	Key      string             `json:"key,omitempty" jsonschema:"made by the client so that nothing is recorded twice"`
	Kind     Kind               `json:"kind" jsonschema:"what happened; readers keep kinds they do not know"`
	Payload  json.RawMessage    `json:"payload" jsonschema:"members depend on the kind; {sealed: hash} stands for a personal value"`
	Personal []exportedPersonal `json:"personal,omitempty" jsonschema:"the personal values, which the hash does not take in"`
	Prev     Hash               `json:"prev" jsonschema:"hash of the event before, zeros for the first"`
	Version  Version            `json:"version" jsonschema:"place in the job, from 1"`
	Who      string             `json:"who" jsonschema:"who recorded it, and on which device"`
}

// exportedPersonal is a personal value beside its event.
type exportedPersonal struct {
	Path   string `json:"path" jsonschema:"where in the payload it belongs, a JSON Pointer; parts of a text are put together again"`
	Salt   string `json:"salt,omitempty" jsonschema:"16 bytes in hexadecimal; SHA-256 of salt and value is what stands in the payload"`
	Value  string `json:"value,omitempty"`
	Clear  bool   `json:"clear,omitempty" jsonschema:"the event's hash was taken with the value in its place, by an earlier release"`
	Erased string `json:"erased,omitempty" jsonschema:"when salt and value were erased: the time of the job.person_erased event"`
}

func exportedFrom(e Event) exported {
	var values []exportedPersonal
	if e.sealed != nil {
		for _, p := range e.sealed.values {
			x := exportedPersonal{Path: p.path, Salt: hex.EncodeToString(p.salt), Value: p.value, Clear: p.clear}
			if !p.erased.IsZero() {
				x.Erased = p.erased.UTC().Format(timeForm)
			}
			values = append(values, x)
		}
	}
	return exported{At: e.At.UTC().Format(timeForm), Hash: e.Hash, Job: e.Job, Key: e.Key, Kind: e.Kind,
		Payload: e.stored(), Personal: values, Prev: e.Prev, Version: e.Version, Who: e.Who}
}

//go:embed job.schema.json
var exportSchema []byte

// ExportSchema gives the JSON Schema (draft 2020-12) of job.json in an exported job.
func ExportSchema() []byte { return bytes.Clone(exportSchema) }

// Export writes one job with its attachments as a single zip file that can be verified by itself: job.json, as
// described by ExportSchema, and files/SHA256. The same job at the same version gives the same bytes. Everything is
// checked before the first byte is written.
//
// Errors: ErrNoJob, ErrDamaged, ErrNoAttachment, ErrTooLarge, and those of w.
func (b *Book) Export(ctx context.Context, job string, w io.Writer) error {
	events, err := b.Events(ctx, job, 0)
	if err != nil {
		return err
	}
	text, err := documentText(job, events)
	if err != nil {
		return err
	}
	files := make([]fileRow, 0)
	seen := map[Hash]bool{}
	for _, f := range keptFiles(events) {
		if !seen[f.SHA256] {
			seen[f.SHA256] = true
			if err := b.store.verify(ctx, f.SHA256, f.Size); err != nil {
				return err
			}
			files = append(files, f)
		}
	}
	z := zip.NewWriter(w)
	stamp := events[len(events)-1].At
	if err := addToZip(z, documentName, zip.Deflate, stamp, bytes.NewReader(text)); err != nil {
		return err
	}
	for _, f := range files {
		if err := b.addFile(ctx, z, f, stamp); err != nil {
			return err
		}
	}
	return z.Close()
}

func (b *Book) addFile(ctx context.Context, z *zip.Writer, f fileRow, stamp time.Time) error {
	from, _, err := b.store.open(f.SHA256)
	if err != nil {
		return err
	}
	defer from.Close()
	method := zip.Deflate
	if t, _, _ := strings.Cut(f.MediaType, "/"); t == "image" || t == "video" {
		method = zip.Store // packed already
	}
	return addToZip(z, filesPrefix+f.SHA256.String(), method, stamp, untilDone{ctx, from})
}

func addToZip(z *zip.Writer, name string, method uint16, stamp time.Time, r io.Reader) error {
	w, err := z.CreateHeader(&zip.FileHeader{Name: name, Method: method, Modified: stamp})
	if err != nil {
		return err
	}
	_, err = io.Copy(w, r)
	return err
}

// documentText verifies the chain and writes job.json, an event a line.
func documentText(job string, events []Event) ([]byte, error) {
	var text bytes.Buffer
	enc := json.NewEncoder(&text)
	enc.SetEscapeHTML(false)
	fmt.Fprintf(&text, "{\n\"format\": %q,\n\"format_version\": %d,\n\"job\": %q,\n\"events\": [\n", exportFormat,
		exportVersion, job)
	var last Event
	for i, e := range events {
		if flaw := linkFlaw(last, e); flaw != "" {
			return nil, fmt.Errorf("job %s, version %d – %w: %s – restore the last good backup", job, e.Version,
				ErrDamaged, flaw)
		}
		if i > 0 {
			text.WriteByte(',')
		}
		if err := enc.Encode(exportedFrom(e)); err != nil {
			return nil, errors.Join(ErrDamaged, err)
		}
		if text.Len() > MaxDocument {
			return nil, fmt.Errorf(
				"job %s – %w: its events take more than %d bytes – take a backup of the book instead", job, ErrTooLarge,
				MaxDocument)
		}
		last = e
	}
	text.WriteString("]\n}\n")
	return text.Bytes(), nil
}
