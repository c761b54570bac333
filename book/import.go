package book

import (
	"archive/zip"
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"strings"
	"time"
)

// Imported tells what Import did.
type Imported struct {
	Job     string  `json:"job"`
	Before  Version `json:"before"`  // version in this book before, 0 if the job was new
	Version Version `json:"version"` // version now
}

// Import reads what Export wrote: a new job, or the events that this book does not have yet of a job it has. The
// whole file is verified before anything is recorded, and all of it is recorded or nothing.
//
// Errors: ErrBadImport (*Diverged among them), ErrTooLarge, ErrQuota, ErrFull.
func (b *Book) Import(ctx context.Context, r io.Reader) (Imported, error) {
	if b.access == ReadOnly {
		return Imported{}, fmt.Errorf("%s – %w: it was opened for reading – open it for writing", b.path, ErrReadOnly)
	}
	file, size, err := b.store.spool(ctx, r)
	if err != nil {
		return Imported{}, err
	}
	defer unspool(file)
	z, err := openZip(file, size)
	if err != nil {
		return Imported{}, badImport("%v", err)
	}
	entries, err := listEntries(z)
	if err != nil {
		return Imported{}, err
	}
	events, err := readDocument(entries[documentName])
	if err != nil {
		return Imported{}, err
	}
	if b.judge != nil {
		if err := b.judge(events); err != nil {
			return Imported{}, fmt.Errorf("import – %w: %w", ErrBadImport, err)
		}
	}
	b.store.naming.Lock()
	defer b.store.naming.Unlock()
	in := &importing{ctx: ctx, book: b, events: events, entries: entries}
	if err := in.files(); err != nil {
		in.takeBack()
		return Imported{}, err
	}
	result, err := in.store()
	switch {
	case err == nil:
		b.store.keep(in.added)
		err = in.sweep()
	case ctx.Err() == nil: // surely not recorded
		in.takeBack()
	}
	return result, err
}

func badImport(format string, args ...any) error {
	return fmt.Errorf("import – %w: %s – export the job again where it came from", ErrBadImport,
		fmt.Sprintf(format, args...))
}

// listEntries allows job.json and files/HASH, each once, and nothing else, so that no name in a zip file can be a path.
func listEntries(z *zip.Reader) (map[string]*zip.File, error) {
	entries := map[string]*zip.File{}
	for _, f := range z.File {
		if sha, isFile := strings.CutPrefix(f.Name, filesPrefix); f.Name != documentName {
			if _, err := ParseHash(sha); !isFile || err != nil {
				return nil, badImport("entry %q does not belong in an exported job", clip(f.Name, 80))
			}
		}
		if entries[f.Name] != nil {
			return nil, badImport("entry %q stands there twice", f.Name)
		}
		if f.Method != zip.Store && f.Method != zip.Deflate || f.Flags&1 != 0 {
			return nil, badImport("entry %q is encrypted or packed in an unknown way", f.Name)
		}
		entries[f.Name] = f
	}
	if entries[documentName] == nil {
		return nil, badImport("%s is missing", documentName)
	}
	return entries, nil
}

// readDocument reads and verifies job.json.
func readDocument(f *zip.File) ([]Event, error) {
	r, err := f.Open()
	if err != nil {
		return nil, badImport("%s: %v", documentName, err)
	}
	defer r.Close()
	text, err := io.ReadAll(io.LimitReader(r, MaxDocument+1))
	if err != nil {
		return nil, badImport("%s: %v", documentName, err)
	}
	if len(text) > MaxDocument {
		return nil, fmt.Errorf("import, %s – %w: more than %d bytes – an exported job is smaller", documentName,
			ErrTooLarge, MaxDocument)
	}
	return parseDocument(text)
}

// parseDocument reads job.json strictly: anything that would be lost or read in two ways is refused.
func parseDocument(text []byte) ([]Event, error) {
	text, err := Canonical(text, MaxDepth+3) // document, events, event
	if err != nil {
		return nil, badImport("%s: %v", documentName, err)
	}
	var doc document
	dec := json.NewDecoder(bytes.NewReader(text))
	dec.DisallowUnknownFields()
	if err := dec.Decode(&doc); err != nil {
		return nil, badImport("%s: %v", documentName, err)
	}
	if doc.Format != exportFormat {
		return nil, badImport("format is %q, not %q", clip(doc.Format, 40), exportFormat)
	}
	if doc.Version < 1 || doc.Version > exportVersion {
		return nil, fmt.Errorf("import – %w: format version %d, this release reads up to %d – use the release that "+
			"wrote it", ErrBadImport, doc.Version, exportVersion)
	}
	var again bytes.Buffer // Go's decoder takes "Who" for "who" and null for "": the round trip does not
	enc := json.NewEncoder(&again)
	enc.SetEscapeHTML(false)
	if err := enc.Encode(doc); err != nil {
		return nil, badImport("%s: %v", documentName, err)
	}
	if same, err := Canonical(again.Bytes(), MaxDepth+3); err != nil || !bytes.Equal(same, text) {
		return nil, badImport("%s has members that do not belong there", documentName)
	}
	return verifiedEvents(doc)
}

func verifiedEvents(doc document) ([]Event, error) {
	if checkID(doc.Job) != nil || len(doc.Events) == 0 {
		return nil, badImport("job id %q is none of ours, or there are no events", clip(doc.Job, 40))
	}
	events := make([]Event, 0, len(doc.Events))
	keys := map[string]bool{}
	var last Event
	var erasures unfinishedErasures
	for i, x := range doc.Events {
		at, err := time.Parse(timeForm, x.At)
		if err != nil || at.Format(timeForm) != x.At {
			return nil, badImport("event %d: time %q is not of the form %s", i+1, clip(x.At, 40), timeForm)
		}
		s, err := x.sealed()
		if err != nil || s != nil && doc.Version < 2 {
			return nil, badImport("event %d: personal values do not fit the event", i+1)
		}
		e, err := settled(Draft{Who: x.Who, Kind: x.Kind, Payload: x.Payload, Key: x.Key, At: at})
		if err != nil {
			return nil, badImport("event %d: %v", i+1, err)
		}
		e.sealed = s
		e.Job, e.Version, e.At, e.Prev, e.Hash = x.Job, x.Version, at, x.Prev, x.Hash
		e.Back = i > 0 && at.Before(last.At)
		flaw := linkFlaw(last, e)
		switch {
		case e.Job != doc.Job:
			flaw = "belongs to another job"
		case e.Key != "" && keys[e.Key]:
			flaw = "has a key that was used before"
		}
		if flaw == "" && len(e.stored()) > maxStored {
			flaw = "is too large"
		}
		_ = erasures.add(e) // what an event erases and the file still has is erased on the way in
		if flaw != "" {
			return nil, badImport("event %d: %s", i+1, flaw)
		}
		keys[e.Key] = true
		events, last = append(events, e), e
	}
	if v := erasures.end(); v > 0 {
		return nil, badImport("event %d: a personal value is erased and no event says so", v)
	}
	return events, nil
}

// importing is an import whose document was verified.
type importing struct {
	ctx     context.Context
	book    *Book
	events  []Event
	entries map[string]*zip.File // of the exported job, or
	from    *Book                // the book that it comes from

	fresh []Hash // files put in place by this import
	added int64  // bytes of files that no event named before
}

// files puts every attachment in place that the events name. store.naming is held.
func (in *importing) files() error {
	seen := map[Hash]int64{}
	for _, f := range keptFiles(in.events) {
		if size, ok := seen[f.SHA256]; ok {
			if size != f.Size {
				return badImport("event %d: attachment %s has two sizes", f.version, f.SHA256)
			}
			continue
		}
		seen[f.SHA256] = f.Size
		if err := in.file(f); err != nil {
			return err
		}
	}
	if len(seen) < len(in.entries)-1 { // of an exported job
		for name := range in.entries {
			if sha, err := ParseHash(strings.TrimPrefix(name, filesPrefix)); err == nil {
				if _, ok := seen[sha]; !ok {
					return badImport("no event names the entry %q", name)
				}
			}
		}
	}
	return nil
}

func (in *importing) file(f fileRow) error {
	s := in.book.store
	known, err := in.book.named(in.ctx, f.SHA256)
	if err != nil {
		return err
	}
	if in.entries[filesPrefix+f.SHA256.String()] == nil && s.intact(f.SHA256, f.Size) {
		return nil
	}
	r, err := in.content(f)
	if err != nil {
		return err
	}
	defer r.Close()
	g, err := s.stage(in.ctx, r, f.Size)
	if err != nil {
		return asBadImport(err)
	}
	defer g.discard()
	if g.sha != f.SHA256 || g.size != f.Size {
		return badImport("attachment %q (%s) has another content", clip(f.Name, 80), f.SHA256)
	}
	fresh, err := g.name()
	if err == nil && !known {
		in.added += f.Size
		if fresh {
			in.fresh = append(in.fresh, f.SHA256)
		}
	}
	return err
}

// asBadImport marks what the zip reader said, and leaves errors of ours alone.
func asBadImport(err error) error {
	if what, _ := diagnose(err); what == nil && bytes.Contains([]byte(err.Error()), []byte("zip:")) {
		return badImport("%v", err)
	}
	return err
}

// takeBack removes the files that were put in place for nothing: no event names them.
func (in *importing) takeBack() {
	for _, sha := range in.fresh {
		if named, err := in.book.named(context.WithoutCancel(in.ctx), sha); err == nil && !named {
			in.book.store.forget(sha) // Check mentions what stays
		}
	}
}

// sweep takes away what the imported events threw away here, and what was brought that this book had thrown away.
func (in *importing) sweep() error {
	for _, e := range in.events {
		if d, err := readDiscarded(e.Payload); e.Kind == KindAttachmentDiscarded && err == nil {
			if err := in.book.sweep(in.ctx, d.SHA256); err != nil {
				return err
			}
		}
	}
	for _, sha := range in.fresh {
		if err := in.book.sweep(in.ctx, sha); err != nil {
			return err
		}
	}
	return nil
}
