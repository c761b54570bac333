package recording_test

import (
	"context"
	"errors"
	"strings"
	"sync"
	"testing"
	"time"

	"phasewright/book"
	"phasewright/web"
	"phasewright/web/webtest"
)

// severalBook is a book that says other servers are on it, with claims in memory. What PostgreSQL does with them is
// tried with the book.
type severalBook struct {
	*book.Book
	mu     sync.Mutex
	claims map[string]time.Time // until when
	breaks bool
}

func (b *severalBook) Several() bool { return true }

func (b *severalBook) Claim(_ context.Context, work string, life time.Duration) (bool, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.claims[work] = time.Now().Add(life)
	return true, nil
}

func (b *severalBook) Claims(_ context.Context, begin string) (all []book.Claimed, err error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.breaks {
		b.breaks = false
		panic("a nut in the claims")
	}
	for work, until := range b.claims {
		if strings.HasPrefix(work, begin) {
			all = append(all, book.Claimed{Work: work, Over: time.Now().After(until)})
		}
	}
	return all, nil
}

func (b *severalBook) Unclaim(_ context.Context, work string) error {
	b.mu.Lock()
	defer b.mu.Unlock()
	if _, ok := b.claims[work]; !ok {
		return errors.New("it was not claimed")
	}
	delete(b.claims, work)
	return nil
}

func several(t *testing.T, b *severalBook) *webtest.Shop {
	return webtest.NewShop(t, func(c *web.Config) {
		if b.Book == nil {
			b.Book, b.claims = c.Book.(*book.Book), map[string]time.Time{}
		}
		c.Book = b
	})
}

// A recording that another server was to read is read by this one when that one is dead, and by no two at once.
func TestARecordingIsTakenOverFromADeadServer(t *testing.T) {
	b := &severalBook{}
	s := several(t, b)
	job := s.NewJob()
	e, err := b.PutAttachment(t.Context(), job, book.NewAttachment{Who: "Ada", Name: "a.vcd"},
		strings.NewReader("$timescale 1 us $end"))
	if err != nil {
		t.Fatal(err)
	}
	files, err := b.Attachments(t.Context(), job)
	if err != nil {
		t.Fatal(e, err)
	}
	work := "reading " + job + " " + files[0].SHA256.String() + ` {"who":"Ada"}`
	b.mu.Lock()
	b.claims[work] = time.Now().Add(time.Hour)
	b.mu.Unlock()
	page := s.Get("/job/" + job + "/captures").Body.String()
	webtest.WantIn(t, page, "being read by another server")
	webtest.WantCode(t, s.Post("/job/"+job+"/captures/"+files[0].SHA256.String(), nil), 303)
	s.Settle()
	b.mu.Lock()
	if len(b.claims) != 1 {
		t.Errorf("this server claimed it too: %v", b.claims)
	}
	b.claims[work] = time.Now().Add(-time.Second) // the other one is silent
	b.mu.Unlock()
	several(t, b) // a server that looks as it starts
	for range 100 {
		b.mu.Lock()
		left := len(b.claims)
		b.mu.Unlock()
		if left == 0 {
			return
		}
		time.Sleep(100 * time.Millisecond)
	}
	t.Error("nobody took it over")
}

func TestLookingAfterOtherServersBreaksAlone(t *testing.T) {
	var l webtest.Lines
	b := &severalBook{breaks: true}
	s := webtest.NewShop(t, webtest.Logged(&l), func(c *web.Config) {
		b.Book, b.claims = c.Book.(*book.Book), map[string]time.Time{}
		c.Book = b
	})
	for range 50 {
		b.mu.Lock()
		still := b.breaks
		b.mu.Unlock()
		if !still {
			break
		}
		time.Sleep(20 * time.Millisecond)
	}
	webtest.WantIn(t, l.With(t, "broke down"), "a nut in the claims")
	webtest.WantCode(t, s.Get("/"), 200)
}
