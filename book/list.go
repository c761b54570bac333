package book

import (
	"context"
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"phasewright/beside"
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
	// Text is words, all of which must be found: by their beginning or, from three letters on, by any part. Accents and
	// case do not matter, nor whether ä is written ae or a, ø oe or o, O'Hara ohara. "" lists.
	Text  string
	Shelf Shelf
	// Bay is where it stands, Person in whose hands it is or, where From or To is given, who worked on it then; "" is
	// any.
	Bay, Person string
	Waiting     bool // those alone that wait for something
	// From and To bound the time in which it was worked on, to the hour: from the one on, before the other; zero is
	// any.
	From, To time.Time

	Limit int    // 1 to 500; 0 means 50
	After string // Page.Next of the page before; "" begins
}

// Page is a part of the job list, jobs worked on last first: by the time of the work, not of an import.
type Page struct {
	Jobs []Job  `json:"jobs"`
	Next string `json:"next,omitempty"` // "" when there is no more
	// Close says that nothing was found as written: these have words like those, one slip of the hand away, or two in a
	// word of seven letters and more.
	Close bool `json:"close,omitzero"`
}

const (
	defaultPage = 50
	largestPage = 500
)

// mark is a place between two jobs of a list, as Page.Next writes it: behind the job of that time and number, in a list
// found by words like those typed or not.
type mark struct {
	close      bool
	worked, no int64
}

func (m mark) String() string {
	sign := ""
	if m.close {
		sign = "~"
	}
	return fmt.Sprintf("%s%d.%d", sign, m.worked, m.no)
}

func readMark(s string) (mark, error) {
	m := mark{worked: math.MaxInt64, no: math.MaxInt64}
	if s == "" {
		return m, nil
	}
	var after string
	after, m.close = strings.CutPrefix(s, "~")
	worked, no, _ := strings.Cut(after, ".")
	var err, errNo error
	m.worked, err = strconv.ParseInt(worked, 10, 64)
	m.no, errNo = strconv.ParseInt(no, 10, 64)
	if err != nil || errNo != nil || m.String() != s || m.no < 1 {
		return m, fmt.Errorf("job list – %w: page mark %q – begin the list again", ErrBadInput, clip(s, 40))
	}
	return m, nil
}

// aJob tells a job from a practice room and from the shop's own lists.
const aJob = `id <> '` + ShopList + `' AND status <> '` + roomStatus + `'`

// Jobs lists or searches jobs by name, owner, engine, shop, bay, the years of the work, the values of the job card, and
// the words of notes, faults and findings.
func (b *Book) Jobs(ctx context.Context, q Query) (Page, error) {
	limit := q.Limit
	if limit <= 0 {
		limit = defaultPage
	}
	limit = min(limit, largestPage)
	after, err := readMark(q.After)
	if err != nil {
		return Page{}, err
	}
	if strings.TrimSpace(q.Text) == "" {
		which, args := aJob+` AND archived = ?`, []any{q.Shelf == Archived}
		switch q.Shelf {
		case Both:
			which, args = aJob, nil
		case Rooms:
			which, args = `status = '`+roomStatus+`' AND archived = ?`, []any{false}
		}
		also, more := q.chosen()
		args = append(args, more...)
		return b.jobs(ctx, after, limit, `SELECT `+lineColumns+` FROM jobs WHERE `+which+also+` AND (worked_at, no) < (?, ?)
			ORDER BY worked_at DESC, no DESC LIMIT ?`, append(args, after.worked, after.no, limit+1)...)
	}
	words := asked(q.Text)
	if len(words) == 0 {
		return Page{Jobs: []Job{}}, nil // nothing but signs
	}
	page, err := b.search(ctx, words, q, after, limit)
	if err != nil || len(page.Jobs) > 0 || q.After != "" {
		return page, err
	}
	after.close = true
	return b.search(ctx, words, q, after, limit)
}

// search finds the jobs that have all the words or, after.close, words like those.
func (b *Book) search(ctx context.Context, words []run, q Query, after mark, limit int) (Page, error) {
	x := b.read()
	others := make([][]string, len(words))
	wrong := make([]error, len(words))
	common := !after.close
	look := func(i int) {
		w := words[i]
		var jobs int
		if others[i], jobs, wrong[i] = within(ctx, x, w); wrong[i] != nil {
			return
		}
		if after.close {
			var more []string
			more, wrong[i] = near(ctx, x, w)
			others[i] = append(others[i], more...)
		} else if common {
			common, wrong[i] = beginMany(ctx, x, w, jobs)
		}
	}
	if after.close { // words like one take long to find: all are looked for at once
		beside.All(len(words), look)
	} else {
		for i := range words {
			look(i)
		}
	}
	if err := errors.Join(wrong...); err != nil {
		return Page{}, b.problem(err)
	}
	if common {
		if page, full, err := b.leafThrough(ctx, words, q, after, limit); err != nil || full {
			return page, err
		}
	}
	statement, values := b.base.search(words, others, q, after, limit)
	return b.jobs(ctx, after, limit, statement, values...)
}

// jobs makes a page of the rows of a query for one more than the limit.
func (b *Book) jobs(ctx context.Context, after mark, limit int, text string, args ...any) (Page, error) {
	rows, err := b.read().rows(ctx, text, args...)
	if err != nil {
		return Page{}, b.problem(err)
	}
	lines, err := collect(rows, scanLine)
	if err != nil {
		return Page{}, b.problem(err)
	}
	return pageOf(lines, after, limit), nil
}

func pageOf(lines []line, after mark, limit int) Page {
	page := Page{Jobs: []Job{}}
	for i, l := range lines {
		if i == limit {
			page.Next = mark{after.close, toMicros(lines[i-1].WorkedAt), lines[i-1].no}.String()
			break
		}
		page.Jobs = append(page.Jobs, l.Job)
	}
	page.Close = after.close && len(page.Jobs) > 0
	return page
}

// leafJobs and leafBytes bound how far the book is leafed through for words that stand in many jobs: a page of them
// is soon full then, where the index would first sort all that it finds. Measured with 20,000 jobs that all hold the
// words: 2 ms instead of 135.
const (
	leafJobs  = 1000
	leafBytes = 2 << 20
)

// leafThrough looks at the jobs themselves, those worked on last first. full is false where the page did not get so.
func (b *Book) leafThrough(ctx context.Context, words []run, q Query, after mark, limit int) (_ Page, full bool,
	err error) {
	also, more := q.chosen()
	args := append([]any{q.Shelf == Archived, q.Shelf == Both}, more...)
	rows, err := b.read().rows(ctx, `SELECT jobs.no, `+lineRest+`, j.words, years, card, remarks
		FROM jobs CROSS JOIN job_text j WHERE j.no = jobs.no AND `+aJob+` AND (archived = ? OR ?)`+also+`
			AND (worked_at, jobs.no) < (?, ?)
		ORDER BY worked_at DESC, jobs.no DESC LIMIT ?`, append(args, after.worked, after.no, leafJobs)...)
	if err != nil {
		return Page{}, false, b.problem(err)
	}
	defer rows.Close()
	var found []line
	for read := 0; len(found) <= limit && read < leafBytes && rows.Next(); {
		var t jobText
		l, err := scanLine(andText{rows, &t})
		if err != nil {
			return Page{}, false, b.problem(err)
		}
		text := " " + t.words + " " + t.years + " " + t.card + " " + t.remarks
		if read += len(text); holds(text, words) {
			found = append(found, l)
		}
	}
	if err := rows.Err(); err != nil || len(found) <= limit {
		return Page{}, false, b.problem(err)
	}
	return pageOf(found, after, limit), true, nil
}

// holds reports whether a text, each word of it after a space, has all the words.
func holds(text string, words []run) bool {
	for _, w := range words {
		part := w.text
		if !w.spaced || utf8.RuneCountInString(part) < shortestWord {
			part = " " + part
		}
		if !strings.Contains(text, part) {
			return false
		}
	}
	return true
}

// andText scans the text of a job behind its line.
type andText struct {
	row  scanner
	text *jobText
}

func (a andText) Scan(dest ...any) error {
	return a.row.Scan(append(dest, &a.text.words, &a.text.years, &a.text.card, &a.text.remarks)...)
}
