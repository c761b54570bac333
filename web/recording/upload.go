package recording

import (
	"errors"
	"fmt"
	"io"
	"mime"
	"mime/multipart"
	"net/http"
	"path"
	"strings"
	"time"

	"phasewright/book"
	"phasewright/web/page"
	"phasewright/web/shelf"
)

const (
	uploadIdle  = 30 * time.Second // without a byte, where nothing else was said
	uploadWhole = 30 * time.Minute
	fieldLimit  = 200      // bytes of a field beside the file
	formMargin  = 64 << 10 // bytes of the form around the file
)

// deadlineReader gives each read a time of its own, so that a slow line is served and a dead one is not waited for.
type deadlineReader struct {
	r       io.Reader
	control *http.ResponseController
	idle    time.Duration
	end     time.Time
}

func (p *deadlineReader) Read(b []byte) (int, error) {
	now := time.Now() // deadlines of connections go by the computer's clock
	if now.After(p.end) {
		return 0, errSlowUpload
	}
	p.control.SetReadDeadline(now.Add(p.idle)) // not supported by test recorders; there is no limit then
	return p.r.Read(b)
}

var (
	errSlowUpload = page.Say(http.StatusRequestTimeout, "The file took too long to arrive. Nothing was recorded.",
		"Bring the device nearer to the host, or put the file on the host itself, then send again.")
	errNoFile = page.Refuse("No file came with the form.", "Choose a recorded file (CSV, VCD or WAV), then send it.")
)

// Receive streams the one file of a form into the book; nothing of it is kept in memory.
func (r *Room) Receive(q *page.Request, j *shelf.Job) (book.Attachment, error) {
	control := http.NewResponseController(q.W)
	control.SetWriteDeadline(time.Time{}) // the answer comes after the file; the reader has the time limits
	media, params, err := mime.ParseMediaType(q.Header.Get("Content-Type"))
	if err != nil || media != "multipart/form-data" || params["boundary"] == "" {
		return book.Attachment{}, errNoFile
	}
	q.Body = http.MaxBytesReader(q.W, q.Body, r.limits.Most+formMargin)
	body := &deadlineReader{q.Body, control, r.limits.Idle, time.Now().Add(uploadWhole)}
	fields, file, err := readForm(multipart.NewReader(body, params["boundary"]))
	if err != nil {
		return book.Attachment{}, err
	}
	return r.put(q, j, fields, file)
}

// readForm reads the fields before the file and gives the file.
func readForm(parts *multipart.Reader) (fields map[string]string, file *multipart.Part, err error) {
	fields = map[string]string{}
	for {
		part, err := parts.NextPart()
		if errors.Is(err, io.EOF) {
			return nil, nil, errNoFile
		}
		if err != nil {
			err = uploadTrouble(err)
			if !page.HasWords(err) { // no line and no limit is to blame, but what came
				err = page.Say(http.StatusBadRequest, "The form cannot be read. Nothing was recorded.",
					"Give the file a plain name of letters and digits, then send it again.")
			}
			return nil, nil, err
		}
		switch part.FormName() {
		case "key", "configuration", "taken":
			text, err := io.ReadAll(io.LimitReader(part, fieldLimit))
			if err != nil {
				return nil, nil, uploadTrouble(err)
			}
			fields[part.FormName()] = string(text)
		case "file":
			return fields, part, nil
		}
	}
}

// put streams the file into the book, with the key and the stamp among the fields.
func (r *Room) put(q *page.Request, j *shelf.Job, fields map[string]string, f *multipart.Part) (book.Attachment,
	error) {
	name := page.CleanName(path.Base(strings.ReplaceAll(f.FileName(), `\`, "/")))
	if name == "" || name == "." || name == "/" {
		return book.Attachment{}, errNoFile
	}
	stamp, err := j.StampOf(func(name string) string { return fields[name] })
	if err != nil {
		return book.Attachment{}, err
	}
	more, err := stamp.On(struct{}{})
	if err != nil {
		return book.Attachment{}, err
	}
	media, _, err := mime.ParseMediaType(f.Header.Get("Content-Type"))
	if err != nil {
		media = ""
	}
	e, err := r.Book.PutAttachment(q.Context(), j.ID, book.NewAttachment{Who: q.By.Who, Name: name, MediaType: media,
		Key: fields["key"], More: more}, f)
	if err != nil {
		return book.Attachment{}, uploadTrouble(err)
	}
	return r.FileOf(q.Context(), j, e)
}

// uploadTrouble tells a line that went quiet from a book that would not take the file.
func uploadTrouble(err error) error {
	var timeout interface{ Timeout() bool }
	switch {
	case errors.As(err, &timeout) && timeout.Timeout():
		return errSlowUpload
	case errors.Is(err, io.ErrUnexpectedEOF):
		return page.Say(http.StatusBadRequest, "The file broke off before its end. Nothing was recorded.",
			"Send it again.")
	}
	return fmt.Errorf("upload: %w", err)
}
