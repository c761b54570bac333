package book

import (
	"context"
	"database/sql"
	"errors"
	"maps"
	"regexp"
	"slices"
)

// line is a job's list line with its row number, which is the Seq of its first event.
type line struct {
	Job
	no int64
}

const lineColumns = `no, ` + lineRest

const lineRest = `id, version, name, owner, engine, shop, bay, person, waiting, waiting_at, opened_at,
	status, archived, readings, corrections, steps_done, attachments, notes,
	created_at, worked_at, last_at, last_kind, last_who, last_seq, head`

// lineMoved sets all columns of a line but its number.
var lineMoved = regexp.MustCompile(`\w+`).ReplaceAllString(lineRest, "$0 = excluded.$0")

func (l *line) values() []any {
	return []any{l.no, l.ID, int64(l.Version), l.Name, l.Owner, l.Engine, l.Shop, l.Bay, l.Person, l.Waiting,
		toMicros(l.WaitingAt), toMicros(l.OpenedAt), l.Status, l.Archived,
		l.Readings, l.Corrections, l.StepsDone, l.Attachments, l.Notes, toMicros(l.CreatedAt), toMicros(l.WorkedAt),
		toMicros(l.LastAt), string(l.LastKind), l.LastWho, l.LastSeq, l.Head[:]}
}

func scanLine(row scanner) (line, error) {
	var l line
	var waiting, opened, created, worked, last int64
	var head []byte
	err := row.Scan(&l.no, &l.ID, &l.Version, &l.Name, &l.Owner, &l.Engine, &l.Shop, &l.Bay, &l.Person,
		&l.Waiting, &waiting, &opened, &l.Status, &l.Archived, &l.Readings, &l.Corrections, &l.StepsDone,
		&l.Attachments, &l.Notes, &created, &worked, &last, &l.LastKind, &l.LastWho, &l.LastSeq, &head)
	l.WaitingAt, l.OpenedAt = fromMicros(waiting), fromMicros(opened)
	l.CreatedAt, l.WorkedAt, l.LastAt = fromMicros(created), fromMicros(worked), fromMicros(last)
	copy(l.Head[:], head)
	return l, unreadable(err)
}

// fileRow is a row of the table files.
type fileRow struct {
	version Version
	attached
	discarded Version // of the event that threw the content away; 0 while it is kept
}

func scanFile(row scanner) (fileRow, error) {
	var f fileRow
	var sha []byte
	err := row.Scan(&f.version, &sha, &f.Name, &f.MediaType, &f.Size, &f.discarded)
	copy(f.SHA256[:], sha)
	return f, unreadable(err)
}

func saveLine(ctx context.Context, x executor, l *line) error {
	values := l.values()
	return x.exec(ctx, `INSERT INTO jobs (`+lineColumns+`) VALUES (`+places(len(values))+`)
		ON CONFLICT (no) DO UPDATE SET `+lineMoved, values...)
}

func saveFile(ctx context.Context, x executor, no int64, f fileRow) error {
	return x.exec(ctx, `INSERT INTO files (job_no, version, sha256, name, media_type, size, discarded)
		VALUES (?, ?, ?, ?, ?, ?, ?)`,
		no, int64(f.version), f.SHA256[:], f.Name, f.MediaType, f.Size, int64(f.discarded))
}

// loadLine gives the list line of a job, an empty one for a new job.
func loadLine(ctx context.Context, x executor, job string) (*line, error) {
	l, err := scanLine(x.row(ctx, `SELECT `+lineColumns+` FROM jobs WHERE id = ?`, job))
	if errors.Is(err, sql.ErrNoRows) {
		return &line{}, nil
	}
	return &l, err
}

// derive moves a line and the tables beside it on by one event. saveLine follows.
func derive(ctx context.Context, x executor, l *line, e Event) error {
	if l.no == 0 {
		l.no = e.Seq
	}
	if err := fold(&l.Job, tableMarks{ctx, x, l.no}, e); err != nil {
		return err
	}
	if err := addWork(ctx, x, l.no, stintOf(e), deedsOf(e)); err != nil {
		return err
	}
	for _, f := range filesAfter(nil, e) {
		if err := saveFile(ctx, x, l.no, f); err != nil {
			return err
		}
	}
	if d, err := readDiscarded(e.Payload); e.Kind == KindAttachmentDiscarded && err == nil {
		if err := x.exec(ctx, `UPDATE files SET discarded = ? WHERE job_no = ? AND sha256 = ? AND discarded = 0`,
			int64(e.Version), l.no, d.SHA256[:]); err != nil {
			return err
		}
	}
	before, err := loadText(ctx, x, l.no)
	if err != nil {
		return err
	}
	after := textAfter(before, &l.Job, e)
	if after == before {
		return nil
	}
	if before != (jobText{}) {
		if err := dropText(ctx, x, l.no, before); err != nil {
			return err
		}
	}
	if err := saveText(ctx, x, l.no, after); err != nil {
		return err
	}
	return moveVocabulary(ctx, x, before, after)
}

const textColumns = `shelf, words, years, card, remarks`

func (t *jobText) values() []any { return []any{t.shelf, t.words, t.years, t.card, t.remarks} }

func loadText(ctx context.Context, x executor, no int64) (jobText, error) {
	var t jobText
	err := x.row(ctx, `SELECT `+textColumns+` FROM job_text WHERE no = ?`, no).Scan(&t.shelf, &t.words, &t.years,
		&t.card, &t.remarks)
	if errors.Is(err, sql.ErrNoRows) {
		return jobText{}, nil
	}
	return t, err
}

// saveText and dropText keep the index in step with the table.
func saveText(ctx context.Context, x executor, no int64, t jobText) error {
	values := append([]any{no}, t.values()...)
	return errors.Join(
		x.exec(ctx, `INSERT INTO job_text (no, `+textColumns+`) VALUES (?, ?, ?, ?, ?, ?)`, values...),
		x.on().index(ctx, x, no, t))
}

func dropText(ctx context.Context, x executor, no int64, t jobText) error {
	return errors.Join(x.on().unindex(ctx, x, no, t), x.exec(ctx, `DELETE FROM job_text WHERE no = ?`, no))
}

// clearDerived empties the derived tables.
func clearDerived(ctx context.Context, x executor) error {
	if err := x.on().emptyIndex(ctx, x); err != nil {
		return err
	}
	for _, t := range comparedTables {
		if err := x.exec(ctx, `DELETE FROM `+t); err != nil {
			return err
		}
	}
	return nil
}

// tableMarks keeps marks in the table of that name.
type tableMarks struct {
	ctx context.Context
	x   executor
	no  int64
}

func (m tableMarks) live(sort, id string) (bool, error) {
	var live bool
	err := m.x.row(m.ctx, `SELECT live FROM marks WHERE job_no = ? AND sort = ? AND id = ?`, m.no, sort, id).Scan(&live)
	if errors.Is(err, sql.ErrNoRows) {
		return false, nil
	}
	return live, err
}

func (m tableMarks) set(sort, id string, live bool) error {
	return saveMark(m.ctx, m.x, m.no, sort, id, live)
}

func saveMark(ctx context.Context, x executor, no int64, sort, id string, live bool) error {
	return x.exec(ctx, `INSERT INTO marks (job_no, sort, id, live) VALUES (?, ?, ?, ?)
		ON CONFLICT (job_no, sort, id) DO UPDATE SET live = excluded.live`, no, sort, id, live)
}

// chapter is what the derived tables hold of one job, made in memory from its events.
type chapter struct {
	line
	marks memoryMarks
	files []fileRow
	text  jobText
	work  map[stint]deeds
}

func (c *chapter) add(e Event) {
	if c.no == 0 {
		c.no, c.marks, c.work = e.Seq, memoryMarks{}, map[stint]deeds{}
	}
	_ = fold(&c.Job, c.marks, e) // memory never fails
	c.files = filesAfter(c.files, e)
	c.work[stintOf(e)] = c.work[stintOf(e)].and(deedsOf(e))
	c.text = textAfter(c.text, &c.Job, e)
}

func (c *chapter) save(ctx context.Context, x executor) error {
	if err := saveLine(ctx, x, &c.line); err != nil {
		return err
	}
	for _, k := range slices.SortedFunc(maps.Keys(c.marks),
		func(a, b [2]string) int { return slices.Compare(a[:], b[:]) }) {
		if err := saveMark(ctx, x, c.no, k[0], k[1], c.marks[k]); err != nil {
			return err
		}
	}
	for _, s := range slices.SortedFunc(maps.Keys(c.work), stint.compare) {
		if err := addWork(ctx, x, c.no, s, c.work[s]); err != nil {
			return err
		}
	}
	for _, f := range c.files {
		if err := saveFile(ctx, x, c.no, f); err != nil {
			return err
		}
	}
	return saveText(ctx, x, c.no, c.text)
}
