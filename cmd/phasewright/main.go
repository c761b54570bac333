// Command phasewright plans, phases and proves the ignition timing of an engine: from a job card to a set-up sheet,
// from light readings and captures to the two corrections, and to a proof. One file a subcommand; nothing is computed
// here.
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"strings"
	"syscall"

	"github.com/alecthomas/kong"

	"phasewright/yamltext"
)

// commands is the whole command line, in the order that help lists it.
type commands struct {
	Demo     demoCommand     `cmd:"" help:"The whole job on the built-in example, start to proof, in seconds."`
	Card     cardCommand     `cmd:"" help:"Start, check or describe a job card."`
	Sheet    sheetCommand    `cmd:"" help:"The set-up sheet that follows from a job card."`
	Leads    leadsCommand    `cmd:"" help:"Leads from the engine's signals to a sound card or scope: dividers, clamps, ratings, edges."`
	Tape     tapeCommand     `cmd:"" help:"A true-scale timing tape for the damper."`
	Fit      fitCommand      `cmd:"" help:"Timing-light readings to corrections, with uncertainty and verdict."`
	Capture  captureCommand  `cmd:"" help:"A recording of the signals to roles, sync, spark angle and timing, on paper with its drawings."`
	Bench    benchCommand    `cmd:"" help:"The simulated engine: faults, recordings, readings; and the trial of ways of working."`
	Suspects suspectsCommand `cmd:"" help:"What was seen to ranked suspects, and the look that would settle it."`
	Report   reportCommand   `cmd:"" help:"The proof of a job in the shop book, as a PDF."`
	Book     bookCommand     `cmd:"" help:"Find jobs in the shop book, take them out and in; check it, back it up."`
	Serve    serveCommand    `cmd:"" help:"The web app for the phone or tablet beside the engine."`
	Help     helpCommand     `cmd:"" help:"Explain a command or a topic: ${topics}."`
	Man      manCommand      `cmd:"" help:"The manual pages, for man."`

	Completion completionCommand `cmd:"" help:"Completion of what is typed, for bash, zsh or fish."`

	Version versionFlag `help:"Print release, commit, date and Go version, and end."`
}

// Exit statuses that scripts rely on; statuses says what each means.
const (
	statusFine    = 0
	statusFails   = 1
	statusUnread  = 2
	statusStopped = 130 // 128 and the number of SIGINT, as shells count it
)

// errFails ends a command with status 1 after it has said its say.
var errFails = errors.New("does not meet its tolerance")

// app is what every command gets: where to write, and when to stop.
type app struct {
	ctx    context.Context
	in     io.Reader
	out    io.Writer // results
	err    io.Writer // messages and progress
	colour bool
	width  int
	inUse  inUse
	tree   *kong.Node // all commands, for those that explain them
}

// hinted is an error with a line on what to do next.
type hinted struct {
	err  error
	hint string
}

func (h hinted) Error() string { return h.err.Error() }
func (h hinted) Unwrap() error { return h.err }

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	os.Exit(run(ctx, os.Args[1:], os.Stdin, os.Stdout, os.Stderr))
}

func run(ctx context.Context, args []string, in io.Reader, out, errs io.Writer) int {
	status := -1
	parser := newParser(out, errs, func(code int) { status = code })
	if len(args) == 0 {
		args = []string{"--help"}
	}
	k, err := parser.Parse(args)
	if status >= 0 { // help or version was printed
		return status
	}
	if err != nil {
		return statusOf(errs, hinted{err, "phasewright --help lists the commands; phasewright " +
			"COMMAND --help what one takes"})
	}
	a := &app{ctx: ctx, in: in, out: out, err: errs, tree: parser.Model.Node}
	a.colour, a.width = terminal(out)
	return statusOf(errs, k.Run(a))
}

// newParser reads command lines by the table of commands.
func newParser(out, errs io.Writer, exit func(int)) *kong.Kong {
	parser, err := kong.New(new(commands), kong.Name("phasewright"),
		kong.Description("Plan, phase and prove ignition timing. The tool calculates, it does not certify: the "+
			"maker's instructions and local law come first."),
		kong.Vars{"topics": strings.Join(topicNames(), ", ")}, kong.Writers(out, errs), kong.Exit(exit),
		kong.ConfigureHelp(kong.HelpOptions{Compact: true}), kong.UsageOnError())
	if err != nil {
		panic(err) // the command table is wrong: a fault of the program
	}
	return parser
}

// statusOf prints an error in the house's form and gives the exit status that belongs to it.
func statusOf(errs io.Writer, err error) int {
	var faults yamltext.Errors
	var h hinted
	switch {
	case err == nil:
		return statusFine
	case errors.Is(err, errFails):
		return statusFails
	case errors.Is(err, context.Canceled):
		fmt.Fprintln(errs, "stopped; nothing half-written was left")
		return statusStopped
	case errors.As(err, &faults):
		for _, e := range faults {
			fmt.Fprintf(errs, "error: %s\n", e.Error())
			if x := e.Excerpt(); x != "" {
				fmt.Fprintln(errs, x)
			}
		}
		hint := count(len(faults), "thing") + " to mend"
		if errors.As(err, &h) {
			hint += "; " + h.hint
		}
		fmt.Fprintf(errs, "hint: %s\n", hint)
		return statusUnread
	}
	for _, line := range strings.Split(strings.TrimSpace(err.Error()), "\n") {
		fmt.Fprintf(errs, "error: %s\n", line)
	}
	if errors.As(err, &h) && h.hint != "" {
		fmt.Fprintf(errs, "hint: %s\n", h.hint)
	}
	return statusUnread
}

func count(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}
