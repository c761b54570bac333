package book

import (
	"bytes"
	"context"
	_ "embed"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"strconv"
	"time"

	"phasewright/spreadsheet"
)

// The whole book as one JSON document: wholeFormat and its version say what it is.
const (
	wholeFormat  = "phasewright book"
	wholeVersion = 2 // 1: nothing was sealed
)

// whole is the document.
type whole struct {
	Format  string     `json:"format" jsonschema:"says that this is a whole shop book"`
	Version int        `json:"format_version" jsonschema:"version of this format"`
	Jobs    []wholeJob `json:"jobs" jsonschema:"all jobs, worked on last first"`
}

// wholeJob is a job in it: the line of the job list, and the events that it comes from.
type wholeJob struct {
	ID          string     `json:"id" jsonschema:"id of the job"`
	Name        string     `json:"name"`
	Owner       string     `json:"owner"`
	Engine      string     `json:"engine"`
	Shop        string     `json:"shop"`
	Bay         string     `json:"bay" jsonschema:"where it stands in the shop"`
	Status      string     `json:"status" jsonschema:"in plain words"`
	PutAway     bool       `json:"put_away"`
	Readings    int        `json:"readings" jsonschema:"added less withdrawn"`
	Corrections int        `json:"corrections"`
	StepsDone   int        `json:"steps_done" jsonschema:"done or overridden, less undone"`
	Files       int        `json:"files" jsonschema:"added, also those thrown away since"`
	Notes       int        `json:"notes"`
	MadeAt      string     `json:"made_at" jsonschema:"UTC, six decimals"`
	WorkedAt    string     `json:"worked_at" jsonschema:"the latest time of an event: UTC, six decimals"`
	LastWho     string     `json:"last_who" jsonschema:"who recorded the last event"`
	Version     Version    `json:"version" jsonschema:"count of the events"`
	Head        Hash       `json:"head" jsonschema:"hash of the last event"`
	Events      []exported `json:"events,omitempty" jsonschema:"all events of the job, oldest first, as in an exported job"`
}

func wholeJobOf(j Job) wholeJob {
	stamp := func(t time.Time) string { return t.UTC().Format(timeForm) }
	return wholeJob{ID: j.ID, Name: j.Name, Owner: j.Owner, Engine: j.Engine, Shop: j.Shop, Bay: j.Bay,
		Status: j.Status, PutAway: j.Archived, Readings: j.Readings, Corrections: j.Corrections,
		StepsDone: j.StepsDone, Files: j.Attachments, Notes: j.Notes, MadeAt: stamp(j.CreatedAt),
		WorkedAt: stamp(j.WorkedAt), LastWho: j.LastWho, Version: j.Version, Head: j.Head}
}

//go:embed whole.schema.json
var wholeSchema []byte

// WholeSchema gives the JSON Schema (draft 2020-12) of what WriteJSON writes. The columns of WriteCSV have the names of
// a job's members there.
func WholeSchema() []byte { return bytes.Clone(wholeSchema) }

// jobColumns and eventColumnNames are the headers of the two tables that a spreadsheet takes.
var (
	jobColumns = []string{"id", "name", "owner", "engine", "shop", "bay", "status", "put_away", "readings",
		"corrections", "steps_done", "files", "notes", "made_at", "worked_at", "last_who", "version", "head"}
	eventColumnNames = []string{"job", "version", "at", "who", "kind", "key", "payload", "prev", "hash"}
)

func (j wholeJob) cells() []string {
	return []string{j.ID, j.Name, j.Owner, j.Engine, j.Shop, j.Bay, j.Status, strconv.FormatBool(j.PutAway),
		strconv.Itoa(j.Readings), strconv.Itoa(j.Corrections), strconv.Itoa(j.StepsDone), strconv.Itoa(j.Files),
		strconv.Itoa(j.Notes), j.MadeAt, j.WorkedAt, j.LastWho, strconv.FormatInt(int64(j.Version), 10),
		j.Head.String()}
}

// WriteCSV writes jobs as a table, a job a row (RFC 4180, UTF-8, one header line). Texts that a spreadsheet would run
// as formulas get an apostrophe in front, as package spreadsheet says.
func WriteCSV(w io.Writer, jobs []Job) error {
	return writeTable(w, jobColumns, func(row func([]string) error) error {
		for _, j := range jobs {
			if err := row(wholeJobOf(j).cells()); err != nil {
				return err
			}
		}
		return nil
	})
}

// WriteEventsCSV writes all events of the book as a table, an event a row, in the order in which the book got them; the
// payload is a cell of JSON. Form and apostrophes are those of WriteCSV.
func (b *Book) WriteEventsCSV(ctx context.Context, w io.Writer) error {
	return writeTable(w, eventColumnNames, func(row func([]string) error) error {
		rows, err := b.read().rows(ctx, `SELECT `+selected+` FROM events ORDER BY seq`)
		if err != nil {
			return b.problem(err)
		}
		defer rows.Close()
		for rows.Next() {
			e, err := scanEvent(rows)
			if err != nil {
				return b.problem(err)
			}
			x := exportedFrom(e)
			if err := row([]string{x.Job, strconv.FormatInt(int64(x.Version), 10), x.At, x.Who, string(x.Kind), x.Key,
				string(e.Payload), x.Prev.String(), x.Hash.String()}); err != nil {
				return err
			}
		}
		return b.problem(rows.Err())
	})
}

func writeTable(w io.Writer, header []string, fill func(row func([]string) error) error) error {
	table := csv.NewWriter(w)
	table.UseCRLF = true
	err := table.Write(header)
	if err == nil {
		err = fill(func(cells []string) error {
			for i := range cells {
				cells[i] = spreadsheet.Cell(cells[i])
			}
			return table.Write(cells)
		})
	}
	table.Flush()
	if err != nil {
		return err
	}
	return table.Error()
}

// AllJobs gives every job that a query finds, page by page.
func (b *Book) AllJobs(ctx context.Context, q Query) ([]Job, error) {
	all, _, err := b.FirstJobs(ctx, q, math.MaxInt)
	return all, err
}

// FirstJobs gives the first jobs that a query finds, at most so many, and whether there are more.
func (b *Book) FirstJobs(ctx context.Context, q Query, most int) (all []Job, more bool, err error) {
	for {
		q.Limit = min(largestPage, most-len(all))
		page, err := b.Jobs(ctx, q)
		if err != nil {
			return nil, false, err
		}
		all = append(all, page.Jobs...)
		if q.After = page.Next; q.After == "" || len(all) >= most {
			return all, q.After != "", nil
		}
	}
}

// WriteJSON writes jobs as one JSON document that WholeSchema describes, a job a line, with what events gives of each:
// Book.Events for all of them, nil for the lines of the job list alone. Files are not in it.
func WriteJSON(w io.Writer, jobs []Job, events func(job string) ([]Event, error)) error {
	if _, err := fmt.Fprintf(w, "{\n\"format\": %q,\n\"format_version\": %d,\n\"jobs\": [\n", wholeFormat,
		wholeVersion); err != nil {
		return err
	}
	enc := json.NewEncoder(w)
	enc.SetEscapeHTML(false)
	for i, j := range jobs {
		one := wholeJobOf(j)
		if events != nil {
			all, err := events(j.ID)
			if err != nil {
				return err
			}
			for _, e := range all {
				if e.Version <= j.Version { // what came since is for the next time
					one.Events = append(one.Events, exportedFrom(e))
				}
			}
		}
		if i > 0 {
			if _, err := io.WriteString(w, ","); err != nil {
				return err
			}
		}
		if err := enc.Encode(one); err != nil {
			return err
		}
	}
	_, err := io.WriteString(w, "]\n}\n")
	return err
}
