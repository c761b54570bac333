package web

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
)

// Limits of an upload in time. One in size is Config.MaxUpload.
const (
	uploadIdle  = 30 * time.Second // without a byte
	uploadWhole = 30 * time.Minute
)

// isUpload says whether the request carries a file; those are bounded where they are read.
func isUpload(r *http.Request) bool {
	return strings.HasPrefix(r.Header.Get("Content-Type"), "multipart/form-data")
}

// patientReader gives each read a time of its own, so that a slow line is served and a dead one is not waited for.
type patientReader struct {
	r       io.Reader
	control *http.ResponseController
	idle    time.Duration
	end     time.Time
}

func (p *patientReader) Read(b []byte) (int, error) {
	now := time.Now() // deadlines of connections go by the computer's clock
	if now.After(p.end) {
		return 0, errSlowUpload
	}
	p.control.SetReadDeadline(now.Add(p.idle)) // not supported by test recorders; there is no limit then
	return p.r.Read(b)
}

var errSlowUpload = say(http.StatusRequestTimeout, "The file took too long to arrive. Nothing was recorded.", "Bring the device nearer to the host, or put the file on the host itself, then send again.")

// receive streams the one file of a form into the book; nothing of it is kept in memory. The fields before it, its key
// and stamp, go with it.
func (s *Server) receive(w http.ResponseWriter, r *http.Request, v *visit, j *job) (book.Event, error) {
	control := http.NewResponseController(w)
	control.SetWriteDeadline(time.Time{}) // the answer comes after the file; the reader has the time limits
	idle := s.UploadIdle
	if idle == 0 {
		idle = uploadIdle
	}
	r.Body = http.MaxBytesReader(w, r.Body, s.MaxUpload+64<<10)
	_, params, err := mime.ParseMediaType(r.Header.Get("Content-Type"))
	if err != nil || params["boundary"] == "" {
		return book.Event{}, errNoFile
	}
	parts := multipart.NewReader(&patientReader{r.Body, control, idle, time.Now().Add(uploadWhole)}, params["boundary"])
	fields := map[string]string{}
	for {
		part, err := parts.NextPart()
		if errors.Is(err, io.EOF) {
			return book.Event{}, errNoFile
		}
		if err != nil {
			// no line and no limit is to blame, but what came
			if err = uploadTrouble(err); words(err).status == http.StatusInternalServerError {
				err = say(http.StatusBadRequest, "The form cannot be read. Nothing was recorded.",
					"Give the file a plain name of letters and digits, then send it again.")
			}
			return book.Event{}, err
		}
		switch part.FormName() {
		case "key", "configuration", "taken":
			text, err := io.ReadAll(io.LimitReader(part, 200))
			if err != nil {
				return book.Event{}, uploadTrouble(err)
			}
			fields[part.FormName()] = string(text)
		case "file":
			name := cleanName(path.Base(strings.ReplaceAll(part.FileName(), `\`, "/")))
			if name == "" || name == "." || name == "/" {
				return book.Event{}, errNoFile
			}
			stamp, err := stampOf(func(name string) string { return fields[name] }, j)
			if err != nil {
				return book.Event{}, err
			}
			more, err := stamp.On(struct{}{})
			if err != nil {
				return book.Event{}, err
			}
			e, err := s.Book.PutAttachment(r.Context(), j.ID, book.NewAttachment{Who: v.who, Name: name,
				MediaType: mediaType(part), Key: fields["key"], More: more}, part)
			return e, uploadTrouble(err)
		}
	}
}

var errNoFile = say(http.StatusUnprocessableEntity, "No file came with the form.", "Choose a recorded file (CSV, VCD or WAV), then send it.")

// uploadTrouble tells a line that went quiet from a book that would not take the file.
func uploadTrouble(err error) error {
	var timeout interface{ Timeout() bool }
	switch {
	case err == nil:
		return nil
	case errors.As(err, &timeout) && timeout.Timeout():
		return errSlowUpload
	case errors.Is(err, io.ErrUnexpectedEOF):
		return say(http.StatusBadRequest, "The file broke off before its end. Nothing was recorded.", "Send it again.")
	}
	return fmt.Errorf("upload: %w", err)
}

func mediaType(p *multipart.Part) string {
	m, _, err := mime.ParseMediaType(p.Header.Get("Content-Type"))
	if err != nil {
		return ""
	}
	return m
}
