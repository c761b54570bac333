package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"runtime/debug"
	"strings"
	"sync"
	"time"

	"phasewright/jobcard"
	"phasewright/quantity"
	"phasewright/readings"
	"phasewright/report"
	"phasewright/shaft"
	"phasewright/verdict"
	"phasewright/waveform"
)

type captureCommand struct {
	File    string   `arg:"" help:"The recording: CSV, VCD or WAVE, also gzip or zstd of it; told by content, not by name. - reads standard input."`
	Card    string   `help:"The job card: cylinders, order, lead and locked advance are taken from it." placeholder:"CARD"`
	Role    []string `help:"Say what a channel is, as NAME=crank, cam, spark, mark or unknown; may be repeated." placeholder:"NAME=ROLE"`
	Locked  string   `help:"The advance that the controller was locked at, instead of the card's." placeholder:"ANGLE"`
	Glitch  string   `help:"Shortest pulse accepted; shorter ones are counted as glitches." placeholder:"TIME"`
	Edges   output   `help:"Write the edges as FILE.csv or FILE.vcd." placeholder:"FILE"`
	JSON    bool     `name:"json" help:"Print the result as JSON."`
	PDF     output   `name:"pdf" help:"Write it all with its drawings as a PDF, on as few pages as its matter needs; - is standard output, and nothing else is then printed." placeholder:"FILE"`
	Date    string   `help:"Date printed on the PDF, such as 2026-11-25; left out: none." placeholder:"DATE"`
	By      string   `help:"Who recorded it, printed on the PDF." placeholder:"NAME"`
	Letter  bool     `help:"US Letter paper instead of A4."`
	Workers int      `help:"Parsing goroutines; 0 takes one a processor." default:"0" hidden:""`

	card *jobcard.Card
}

// judged is a recording with what it comes to.
type judged struct {
	*shaft.Result
	Verdict readings.Verdict `json:"verdict"`
	First   string           `json:"first"`
	Next    string           `json:"next"`
	Clauses verdict.Set      `json:"clauses"`
}

// captureHeap is what Go's own memory is kept to, as far as that can be: with the program's code the whole then stays
// within 64 MiB, also where a recording declares thousands of channels.
const captureHeap = 40 << 20

// captureGrowth is by how many percent what is in use may grow before memory is collected, far below captureHeap.
// Learning the channels makes much that is soon of no use: with the usual 100 it is collected a dozen times.
const captureGrowth = 400

func (c *captureCommand) Run(a *app) error {
	keepHeap(captureHeap)
	debug.SetGCPercent(captureGrowth)
	opt, err := c.options(a)
	if err != nil {
		return err
	}
	stamp, err := stampOf(c.Date, c.By, c.Letter)
	if err != nil {
		return err
	}
	if c.JSON && c.PDF == "-" {
		return hinted{errors.New("--json and --pdf - both want standard output"), "name a file for the PDF"}
	}
	c.card = opt.Card
	paper := func(res *shaft.Result) error { return c.paper(a, res, opt.Card, stamp) }
	scan := waveform.Options{Workers: c.Workers}
	if c.Glitch != "" {
		g, err := quantity.Parse[quantity.Time](c.Glitch)
		if err != nil {
			return fmt.Errorf("--glitch: %w", err)
		}
		scan.Glitch = waveform.Second(g.Seconds())
	}
	in, closeIn, err := a.openRecording(c.File)
	if err != nil {
		return err
	}
	defer closeIn()
	end := a.progress(&scan)
	if c.Edges == "" {
		res, err := shaft.Run(a.ctx, shaft.Recording{Input: in, Options: scan}, opt)
		end()
		if err == nil {
			err = paper(res)
		}
		return c.finish(a, res, err)
	}
	var res *shaft.Result
	var runErr error
	var last waveform.Second
	err = a.write(c.Edges, func(w io.Writer) error {
		sink, finish, err := edgeWriter(string(c.Edges), w)
		if err != nil {
			return err
		}
		opt.Tee = sink
		if res, runErr = shaft.Run(a.ctx, ending{shaft.Recording{Input: in, Options: scan}, &last},
			opt); runErr != nil {
			return runErr
		}
		if err := finish(last); err != nil {
			return err
		}
		return paper(res) // before the edges get their name: a command that fails leaves no file
	})
	end()
	if runErr != nil {
		err = runErr
	}
	return c.finish(a, res, err)
}

// ending keeps where the recording ended: the writer of logic changes says so in its last line.
type ending struct {
	shaft.Recording
	at *waveform.Second
}

func (e ending) Scan(ctx context.Context, sink waveform.Sink) (*waveform.Result, error) {
	r, err := e.Recording.Scan(ctx, sink)
	if r != nil {
		*e.at = r.End
	}
	return r, err
}

// finish prints what was found, a part of it too, and turns the judgement into the exit status.
func (c *captureCommand) finish(a *app, res *shaft.Result, err error) error {
	if res == nil {
		return err
	}
	j := verdict.OfCapture(res, evidenceOf(c.card))
	res = j.OntoCapture(res, c.card)
	if a.ctx.Err() == nil && c.PDF != "-" {
		var printed error
		if c.JSON {
			printed = writeJSON(a.out, judged{res, j.Verdict, j.First, j.Next, j.Clauses})
		} else if printed = j.Write(a.out); printed == nil {
			printed = res.WriteSummary(a.out)
		}
		if err == nil {
			err = printed
		}
	}
	switch {
	case err != nil:
		return err
	case res.Found(shaft.FoundNoChannel):
		return hinted{errors.New("a channel named with --role is not in the recording"),
			"the first lines of the summary (without --pdf -) list the channels as the file names them"}
	case c.card == nil && res.Crank == nil && res.Alone == nil:
		return hinted{errors.New("no engine is in this recording"), j.Next}
	case c.card != nil && !j.Sound:
		return errFails
	}
	return nil
}

// paper writes the PDF where one is asked for and the recording could be used.
func (c *captureCommand) paper(a *app, res *shaft.Result, card *jobcard.Card, stamp report.Stamp) error {
	if c.PDF == "" || res.Found(shaft.FoundNoChannel) {
		return nil
	}
	j := verdict.OfCapture(res, evidenceOf(card))
	var err error
	if stamp.JSON, err = json.Marshal(j.OntoCapture(res, card)); err != nil {
		return err
	}
	paper, err := report.Capture(res, card, j, stamp)
	if err != nil {
		return err
	}
	return a.writePaper(c.PDF, paper)
}

func (c *captureCommand) options(a *app) (shaft.Options, error) {
	opt := shaft.Options{Roles: map[string]shaft.Role{}}
	if c.Card != "" {
		card, err := a.readCard(c.Card)
		if err != nil {
			return opt, err
		}
		opt.Card = card
	}
	for _, r := range c.Role {
		i := strings.LastIndexByte(r, '=') // a channel's own name may hold one
		if i < 1 {
			return opt, hinted{fmt.Errorf("--role %q is not NAME=ROLE", r),
				"write the channel's name as the file has it, such as --role CH1=crank"}
		}
		role, err := shaft.ParseRole(r[i+1:])
		if err != nil {
			return opt, err
		}
		opt.Roles[r[:i]] = role
	}
	if c.Locked != "" {
		v, err := quantity.Parse[quantity.Crank](c.Locked)
		if err != nil {
			return opt, fmt.Errorf("--locked: %w", err)
		}
		opt.Commanded = []shaft.Command{{Advance: v}}
	}
	return opt, nil
}

// openRecording opens a file to be read at any place, or standard input as a stream.
func (a *app) openRecording(name string) (waveform.Input, func(), error) {
	if name == "-" {
		if f, ok := a.in.(*os.File); ok {
			a.reads(f)
		}
		return waveform.Stream("standard input", a.in, -1), func() {}, nil
	}
	f, err := os.Open(name)
	if err != nil {
		return waveform.Input{}, nil, unopened(name, err)
	}
	a.reads(f)
	st, err := f.Stat()
	switch {
	case err != nil:
		f.Close()
		return waveform.Input{}, nil, err
	case st.IsDir():
		f.Close()
		return waveform.Input{}, nil, hinted{fmt.Errorf("%s is a folder", name), "name a recording in it"}
	case !st.Mode().IsRegular(): // a pipe cannot be read at any place
		return waveform.Stream(name, f, -1), func() { f.Close() }, nil
	}
	return waveform.File(name, f, st.Size()), func() { f.Close() }, nil
}

// edgeWriter chooses the form of the edges by the ending of the name.
func edgeWriter(name string, w io.Writer) (waveform.Sink, func(end waveform.Second) error, error) {
	switch {
	case strings.HasSuffix(strings.ToLower(name), ".csv"):
		s := waveform.NewCSVWriter(w)
		return s, func(waveform.Second) error { return s.Close() }, nil
	case strings.HasSuffix(strings.ToLower(name), ".vcd"):
		s := waveform.NewVCDWriter(w)
		return s, s.Close, nil
	}
	return nil, nil, hinted{fmt.Errorf("--edges %s: the ending says neither CSV nor VCD", name),
		"name it FILE.csv or FILE.vcd"}
}

// progress shows on a terminal how much was read, with the time to go, and nothing in a pipe. done takes it away.
func (a *app) progress(opt *waveform.Options) (done func()) {
	if colour, _ := terminal(a.err); !colour {
		return func() {}
	}
	const clear = "\r\x1b[K" // to the line's beginning, and what stands on it gone (ECMA-48)
	var mu sync.Mutex
	began := time.Now()
	said := began
	opt.Progress = func(read, total int64) {
		mu.Lock()
		defer mu.Unlock()
		if now := time.Now(); now.Sub(said) >= 150*time.Millisecond {
			said = now
			fmt.Fprint(a.err, clear+readSoFar(read, total, now.Sub(began)))
		}
	}
	return func() {
		mu.Lock()
		defer mu.Unlock()
		if said != began {
			fmt.Fprint(a.err, clear)
		}
	}
}

// readSoFar says how much of a file was read in a time, and how long the rest takes at that rate. total 0: of a stream,
// nobody knows.
func readSoFar(read, total int64, took time.Duration) string {
	if total <= 0 || read <= 0 || read > total {
		return "reading " + room(read)
	}
	toGo := time.Duration(float64(took) * (float64(total)/float64(read) - 1)).Round(time.Second)
	return fmt.Sprintf("reading %s of %s, %d %%, %d:%02d to go", room(read), room(total), 100*read/total,
		int(toGo.Minutes()), int(toGo.Seconds())%60)
}
