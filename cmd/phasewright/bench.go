package main

import (
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"time"

	"golang.org/x/term"

	"phasewright/bench"
	"phasewright/quantity"
	"phasewright/trial"
)

// Help lists what --fault and --speed take.
func (benchCommand) Help() string {
	var b strings.Builder
	b.WriteString("Runs the engine of a job card on the bench, with faults switched on, and writes what light and " +
		"recorder would show.\n\n")
	b.WriteString("--speed PROFILE, " + bench.ProfileGrammar + "\n\nFaults, as --fault NAME=VALUE (NAME alone " +
		"takes the value shown):\n")
	for _, f := range bench.FaultTable() {
		fmt.Fprintf(&b, "  %-32s %s\n      %s; accepts %s", f.Name+"="+f.Default(), f.Title, f.Shows, f.Accepts())
		if f.Needs != bench.NeedsNothing {
			fmt.Fprintf(&b, "; needs %s", f.Needs)
		}
		b.WriteString("\n")
	}
	return b.String()
}

type benchCommand struct {
	Card      string   `arg:"" help:"The job card (YAML); - reads standard input. The word trial sets our advice against common practice on random engines instead; the word judge has random engines with faults judged, and counts how often wrongly."`
	Fault     []string `help:"Switch a fault on as NAME=VALUE; may be repeated." placeholder:"NAME=VALUE" sep:"none"`
	Speed     string   `help:"How the crank is driven, such as \"hold 3000 rpm for 10 s\"." placeholder:"PROFILE"`
	Wire      int      `help:"Cylinder whose wire the light is clamped on." default:"1"`
	Capture   output   `help:"Write a recording: FILE.csv or FILE.wav sampled, FILE.vcd logic." placeholder:"FILE"`
	Rate      float64  `help:"Samples a second of a sampled recording." default:"100000"`
	Probe     string   `help:"Spark channel of a sampled recording: driver, wire or current." default:"driver" one:"driver,wire,current"`
	Corner    float64  `help:"Lower limit in Hz of a sampled recording's input, about 20 for a sound card; 0 passes direct voltage." default:"0" placeholder:"HZ"`
	Readings  output   `help:"Write light readings as CSV, one at each speed of the profile; - is standard output." placeholder:"FILE"`
	Seed      uint64   `help:"The same seed gives the same run." default:"1"`
	JSON      bool     `name:"json" help:"Print the result as JSON."`
	Engines   int      `help:"trial, judge: random engines; 0 is 2,000 for trial and 5,000 for judge." default:"0"`
	Tolerance string   `help:"trial: largest error allowed from idle to redline." default:"1 deg" placeholder:"ANGLE"`
}

func (c *benchCommand) Run(a *app) error {
	switch c.Card {
	case "trial":
		return c.trial(a)
	case "judge":
		return c.judge(a)
	}
	card, err := a.readCard(c.Card)
	if err != nil {
		return err
	}
	config, err := bench.FromCard(card)
	if err != nil {
		return err
	}
	if len(config.Invented) > 0 {
		fmt.Fprintf(a.err, "not on the card, invented for the bench: %s\n", strings.Join(config.Invented, ", "))
	}
	config.Light.Wire = c.Wire
	faults, err := bench.ParseFaults(config, c.Fault...)
	if err != nil {
		return hinted{err, "phasewright bench --help lists every fault with its range"}
	}
	text := c.Speed
	if text == "" {
		e := config.Engine
		text = fmt.Sprintf("crank 3 s then sweep %g..%g rpm in 1 s then sweep %g..%g rpm in 20 s",
			float64(e.CrankingSpeed), float64(e.Idle), float64(e.Idle), 0.8*float64(e.Redline))
	}
	profile, err := bench.ParseProfile(text)
	if err != nil {
		return err
	}
	rig, err := bench.NewRig(config, faults, profile, c.Seed)
	if err != nil {
		return err
	}
	if c.Capture != "" {
		if err := c.capture(a, config, faults, profile); err != nil {
			return err
		}
	}
	if c.Readings != "" {
		if err := c.readings(a, config, faults, profile); err != nil {
			return err
		}
		if c.Readings == "-" {
			return nil
		}
	}
	var counts bench.Counts
	n := 0
	rig.Run(func(e *bench.Event) bool {
		counts.Add(e)
		n++
		return n&0xffff != 0 || a.ctx.Err() == nil
	})
	if err := a.ctx.Err(); err != nil {
		return err
	}
	report, err := newBenchReport(card, config, faults, text, profile, c.Wire, &counts)
	if err != nil {
		return err
	}
	if c.JSON {
		return writeJSON(a.out, report)
	}
	return writeBench(a.out, card.Job.Name, report)
}

// capture writes the recording that the file's ending asks for.
func (c *benchCommand) capture(a *app, config bench.Config, faults bench.Faults, profile bench.Profile) error {
	kind := strings.ToLower(filepath.Ext(string(c.Capture)))
	switch kind {
	case ".csv", ".vcd", ".wav":
	default:
		return hinted{fmt.Errorf("--capture %s: the ending %q is not known", c.Capture, kind),
			"end the name in .csv, .wav or .vcd"}
	}
	rig, err := bench.NewRig(config, faults, profile, c.Seed)
	if err != nil {
		return err
	}
	sampling := bench.Sampling{Rate: c.Rate, Spark: bench.Probe(c.Probe), Corner: c.Corner}
	return a.write(c.Capture, func(w io.Writer) error {
		p := newProgress(a, w, string(c.Capture))
		defer p.done()
		switch kind {
		case ".csv":
			return bench.WriteCSV(p, rig, config, sampling)
		case ".wav":
			return bench.WriteWAV(p, rig, config, sampling)
		}
		return bench.WriteVCD(p, rig)
	})
}

func (c *benchCommand) readings(a *app, config bench.Config, faults bench.Faults, profile bench.Profile) error {
	speeds := profile.Speeds(config)
	rows, err := bench.TakeReadings(config, faults, speeds, c.Wire, c.Seed)
	if err != nil {
		return err
	}
	model, err := bench.NewModel(config)
	if err != nil {
		return err
	}
	dark, never := 0, 0
	for _, n := range speeds {
		if !model.Reads(faults, n) {
			never++
		}
	}
	if never > 0 {
		fmt.Fprintf(a.err, "the engine does not run at %s of the profile: nothing is read there\n",
			count(never, "speed"))
	}
	for _, r := range rows {
		if r.Dark {
			dark++
		}
	}
	if dark > 0 {
		fmt.Fprintf(a.err, "the light did not flash at %s of the profile: none stands there\n", count(dark, "speed"))
	}
	return a.write(c.Readings, func(w io.Writer) error { return bench.WriteReadings(w, rows) })
}

// progress passes bytes on, stops when the command is stopped, and says on a terminal how far it is.
type progress struct {
	ctx   context.Context
	w     io.Writer
	say   io.Writer // nil: silent
	name  string
	bytes int64
	said  time.Time
}

func newProgress(a *app, w io.Writer, name string) *progress {
	p := &progress{ctx: a.ctx, w: w, name: name, said: time.Now()}
	if f, ok := a.err.(*os.File); ok && term.IsTerminal(int(f.Fd())) {
		p.say = a.err
	}
	return p
}

func (p *progress) Write(b []byte) (int, error) {
	if err := p.ctx.Err(); err != nil {
		return 0, err
	}
	n, err := p.w.Write(b)
	p.bytes += int64(n)
	if p.say != nil && time.Since(p.said) > 200*time.Millisecond {
		p.said = time.Now()
		fmt.Fprintf(p.say, "\r%s: %d MiB", p.name, p.bytes>>20)
	}
	return n, err
}

func (p *progress) done() {
	if p.say != nil && p.bytes > 0 {
		fmt.Fprintf(p.say, "\r%s: %d KiB written\n", p.name, (p.bytes+1023)>>10)
	}
}

func (c *benchCommand) trial(a *app) error {
	tolerance, err := quantity.Parse[quantity.Crank](c.Tolerance)
	if err != nil {
		return fmt.Errorf("--tolerance: %w", err)
	}
	if !(tolerance > 0) {
		return hinted{fmt.Errorf("--tolerance %v", tolerance), "give a tolerance above nought"}
	}
	engines, err := c.engines(2000)
	if err != nil {
		return err
	}
	rows, err := trial.Run(a.ctx, engines, c.Seed, tolerance)
	if err != nil {
		return err
	}
	if c.JSON {
		return writeJSON(a.out, trialJSON(rows, c.Seed))
	}
	return writeTrial(a.out, rows, c.Seed)
}

// engines is how many are asked for, or the usual number.
func (c *benchCommand) engines(usual int) (int, error) {
	switch {
	case c.Engines < 0 || c.Engines > 1_000_000:
		return 0, hinted{fmt.Errorf("--engines %d", c.Engines),
			"give 1 to 1,000,000 engines, or 0 for the usual number"}
	case c.Engines == 0:
		return usual, nil
	}
	return c.Engines, nil
}

func (c *benchCommand) judge(a *app) error {
	engines, err := c.engines(5000)
	if err != nil {
		return err
	}
	said := newSaying(a, engines)
	rows, err := trial.Sweep(a.ctx, engines, c.Seed, said.done)
	said.end()
	if err != nil {
		return err
	}
	tally := trial.Sum(rows)
	if c.JSON {
		err = writeJSON(a.out, judgeJSON(tally, rows, c.Seed))
	} else {
		err = writeJudge(a.out, tally, rows, c.Seed)
	}
	if err == nil && !tally.Holds() {
		return errFails
	}
	return err
}

// saying tells on a terminal how many engines are done.
type saying struct {
	mu   sync.Mutex
	w    io.Writer // nil: silent
	of   int
	said time.Time
}

func newSaying(a *app, of int) *saying {
	s := &saying{of: of, said: time.Now()}
	if f, ok := a.err.(*os.File); ok && term.IsTerminal(int(f.Fd())) {
		s.w = a.err
	}
	return s
}

func (s *saying) done(n int) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.w != nil && (time.Since(s.said) > 500*time.Millisecond || n == s.of) {
		s.said = time.Now()
		fmt.Fprintf(s.w, "\rjudged: %d of %d engines", n, s.of)
	}
}

func (s *saying) end() {
	if s.w != nil {
		fmt.Fprintln(s.w)
	}
}
