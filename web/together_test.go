package web_test

import (
	"context"
	"fmt"
	"net/url"
	"strconv"
	"testing"

	"phasewright/book"
	"phasewright/procedure"
	"phasewright/web"
	"phasewright/web/shelf"
	"phasewright/web/webtest"
)

// cutBook is a real book whose computer loses its power after so many writes.
type cutBook struct {
	shelf.Book
	left int
}

func (c *cutBook) alive() error {
	if c.left--; c.left < 0 {
		return fmt.Errorf("shop.book – %w – open it again", book.ErrClosed)
	}
	return nil
}

func (c *cutBook) CreateJob(ctx context.Context, j book.NewJob) (book.Event, error) {
	if err := c.alive(); err != nil {
		return book.Event{}, err
	}
	return c.Book.CreateJob(ctx, j)
}

func (c *cutBook) Append(ctx context.Context, job string, v book.Version, d book.Draft) (book.Event, error) {
	if err := c.alive(); err != nil {
		return book.Event{}, err
	}
	return c.Book.Append(ctx, job, v, d)
}

func (c *cutBook) AppendAll(ctx context.Context, job string, v book.Version, d []book.Draft) ([]book.Event, error) {
	if err := c.alive(); err != nil {
		return nil, err
	}
	return c.Book.AppendAll(ctx, job, v, d)
}

// A job and its card, a step and what it means for the readings go into the book with one write: no moment between them
// can be cut.
func TestWhatBelongsTogetherIsOneWrite(t *testing.T) {
	cut := &cutBook{left: 1 << 30}
	s := webtest.NewShop(t, func(c *web.Config) { cut.Book, c.Book = c.Book, cut })
	cut.left = 1
	job := s.NewJob() // answers nothing else than that the card is saved
	if k := s.Kinds(job); len(k) != 2 || k[1] != book.KindCardSaved {
		t.Fatalf("a new job left %v", k)
	}
	cut.left = 1 << 30
	s.UpTo(job, procedure.StepIdle)
	for _, c := range []struct {
		step, value, rpm string
		meant            book.Kind
	}{{"idle", "8", "750", book.KindReadingAdded}, {"stop", "", "", ""}, {"allowance", "145", "",
		book.KindCorrectionMade}} {
		before := len(s.Kinds(job))
		_, state := s.Ordered(job)
		form := url.Values{"act": {"done"}, "step": {c.step}, "who": {"Ada"},
			"version": {strconv.FormatInt(state.Version, 10)}, "value": {c.value}, "rpm": {c.rpm}, "key": {"do-" + c.step},
			"seen": s.Looks(job, procedure.StepID(c.step))}
		cut.left = 1
		for range 2 { // sent again after the answer was lost, nothing is recorded twice
			webtest.WantCode(t, s.Post("/job/"+job+"/steps", form), 303)
		}
		cut.left = 1 << 30
		want := fmt.Sprint([]book.Kind{book.KindStepDone, c.meant})
		if c.meant == "" {
			want = fmt.Sprint([]book.Kind{book.KindStepDone})
		}
		if got := fmt.Sprint(s.Kinds(job)[before:]); got != want {
			t.Errorf("«%s» left %s, want %s", c.step, got, want)
		}
	}
}
