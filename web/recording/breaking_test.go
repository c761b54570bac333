package recording_test

import (
	"context"
	"io"
	"strings"
	"testing"

	"phasewright/book"
	"phasewright/web"
	"phasewright/web/webtest"
)

// brittle is a shop book whose stored files break in the hands of whoever reads them.
type brittle struct{ *book.Book }

func (b brittle) OpenAttachment(ctx context.Context, sha book.Hash) (io.ReadSeekCloser, int64, error) {
	f, size, err := b.Book.OpenAttachment(ctx, sha)
	return webtest.BrittleFile{ReadSeekCloser: f}, size, err
}

// Where the reading of a recording breaks, on whatever goroutine, its page says so with the number of the line in the
// log, and the next one is read.
func TestAReadingThatBreaksIsTheOnlyOneToEnd(t *testing.T) {
	var l webtest.Lines
	var whole *book.Book
	s := webtest.NewShop(t, webtest.Logged(&l), func(c *web.Config) { whole = c.Book.(*book.Book); c.Book = brittle{whole} })
	job := s.NewJob()
	webtest.WantCode(t, s.Do(webtest.Upload("/job/"+job+"/captures", webtest.HostAddr, "a.vcd", strings.NewReader("$timescale 1 us $end"))),
		303)
	s.Settle()
	line := l.With(t, `msg="reading a recording broke down"`)
	if !strings.Contains(line, "a broken invariant") || !strings.Contains(line, "level=ERROR") {
		t.Error(line)
	}
	_, after, _ := strings.Cut(line, "number=")
	number, _, _ := strings.Cut(after, " ")
	page := s.Get("/job/" + job + "/captures").Body.String()
	webtest.WantIn(t, page, "Something went wrong inside the program while reading this file")
	webtest.WantIn(t, page, "number "+number)
	s.Shelf.Book = whole
	files, err := s.Book.Attachments(t.Context(), job)
	if err != nil || len(files) != 1 {
		t.Fatal(files, err)
	}
	webtest.WantCode(t, s.Post("/job/"+job+"/captures/"+files[0].SHA256.String(), nil), 303)
	s.Settle()
	if page := s.Get("/job/" + job + "/captures").Body.String(); strings.Contains(page, "went wrong inside") {
		t.Errorf("not read again: %s", page)
	}
}
