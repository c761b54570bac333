package book

import (
	"context"
	"fmt"
	"math"
	"strconv"
	"strings"
)

// Shelf chooses jobs by whether they are archived. Practice rooms stand on a shelf of their own.
type Shelf int

const (
	Active   Shelf = iota // jobs not archived
	Archived              // archived jobs only
	Both
	Rooms // practice rooms not archived; without a Text
)

// Query asks for a page of the job list.
type Query struct {
	Text  string // words or beginnings of words, all of which must be found; accents and case do not matter; "" lists
	Shelf Shelf
	Limit int    // 1 to 500; 0 means 50
	After string // Page.Next of the page before; "" begins
}

// Page is a part of the job list. Without a Text, jobs touched last come first; with one, jobs made last come first.
type Page struct {
	Jobs []Job  `json:"jobs"`
	Next string `json:"next,omitempty"` // "" when there is no more
}

const (
	defaultPage = 50
	largestPage = 500
)

// Jobs lists or searches jobs by name, owner, engine, shop, and the words of notes, faults and findings. ShopList is
// none of them.
func (b *Book) Jobs(ctx context.Context, q Query) (Page, error) {
	limit := q.Limit
	if limit <= 0 {
		limit = defaultPage
	}
	limit = min(limit, largestPage)
	before := int64(math.MaxInt64)
	if q.After != "" {
		n, err := strconv.ParseInt(q.After, 10, 64)
		if err != nil || n < 1 {
			return Page{}, fmt.Errorf("job list – %w: page mark %q – begin the list again", ErrBadInput,
				clip(q.After, 40))
		}
		before = n
	}
	place := func(l line) int64 { return l.LastSeq }
	const order = ` AND last_seq < ? ORDER BY last_seq DESC LIMIT ?`
	text, args := `SELECT `+lineColumns+` FROM jobs WHERE id <> ? AND status <> ? AND archived = ?`+order,
		[]any{ShopList, roomStatus, q.Shelf == Archived, before, limit + 1}
	switch q.Shelf {
	case Both:
		text = `SELECT ` + lineColumns + ` FROM jobs WHERE id <> ? AND status <> ?` + order
		args = []any{ShopList, roomStatus, before, limit + 1}
	case Rooms:
		text = `SELECT ` + lineColumns + ` FROM jobs WHERE id <> ? AND status = ? AND archived = ?` + order
	}
	if strings.TrimSpace(q.Text) != "" {
		expression := match(q.Text, q.Shelf)
		if expression == "" {
			return Page{Jobs: []Job{}}, nil // nothing but signs
		}
		place = func(l line) int64 { return l.no }
		text = `SELECT ` + lineColumns + ` FROM (SELECT rowid AS found FROM search WHERE search MATCH ? AND rowid < ?
			AND rowid <> coalesce((SELECT no FROM jobs WHERE id = ?), 0) ORDER BY rowid DESC LIMIT ?)
			CROSS JOIN jobs ON no = found ORDER BY no DESC`
		args = []any{expression, before, ShopList, limit + 1}
	}
	rows, err := b.readers.QueryContext(ctx, text, args...)
	if err != nil {
		return Page{}, b.problem(err)
	}
	lines, err := collect(rows, scanLine)
	if err != nil {
		return Page{}, b.problem(err)
	}
	page := Page{Jobs: []Job{}}
	for i, l := range lines {
		if i == limit {
			page.Next = strconv.FormatInt(place(lines[i-1]), 10)
			break
		}
		page.Jobs = append(page.Jobs, l.Job)
	}
	return page, nil
}
