package stand_test

import (
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"phasewright/jobcard"
	"phasewright/shaft/stand"
)

var (
	oneCase = flag.String("case", "", "with -run TestCase: the case to show, as CLASS/SEED")
	rounds  = flag.Int("rounds", 6, "cases of each class")
	first   = flag.Uint64("first", 0, "seed of the first case of each class")
	only    = flag.String("class", "", "only classes whose name begins so")
	smooth  = flag.Bool("smooth", false, "engines without the ripple of compression")
	strict  = flag.Bool("strict", false, "hold room shaft to what it is to keep in the end")
)

// report gathers what a run prints.
type report struct {
	misses  []string
	slowest time.Duration
	slow    string
}

func (p *report) timed(name string, s said) {
	if s.lasted > p.slowest {
		p.slowest, p.slow = s.lasted, name
	}
}

func (p *report) miss(name, word, what, note string) {
	m := fmt.Sprintf("%s %s %s: %s", name, word, what, note)
	if len(m) > 200 {
		m = m[:200] + "…"
	}
	p.misses = append(p.misses, m)
}

// TestReport lets room shaft read every case and prints how it did, class by class, and a line for each miss:
//
//	go test ./shaft/stand -run TestReport -v
func TestReport(t *testing.T) {
	engines(t, "all", stand.Classes(), tried(), making())
}

// TestFiles does the same with cases written as files, at least two for each dialect, with -short one.
func TestFiles(t *testing.T) {
	least := 2
	if testing.Short() {
		least = 1
	}
	engines(t, "files", stand.Dialects(), max(least, tried()/5), stand.MakeFile)
}

// tried is the number of cases of each class: flag rounds, with -short a third of it.
func tried() int {
	if testing.Short() {
		return max(1, *rounds/3)
	}
	return *rounds
}

func making() func(string, uint64) (*stand.Case, error) {
	if *smooth {
		return stand.MakeSmooth
	}
	return stand.Make
}

func engines(t *testing.T, name string, classes []string, rounds int, makes func(string, uint64) (*stand.Case, error)) {
	var p report
	words := []string{"card", "bare"}
	lines := [2][]*line{}
	all := [2]*line{newLine(name + ", card"), newLine(name + ", bare")}
	for _, class := range classes {
		if !strings.HasPrefix(class, *only) {
			continue
		}
		l := [2]*line{newLine(class), newLine(class)}
		for seed := range uint64(rounds) {
			c, err := makes(class, *first+seed)
			if err != nil {
				t.Fatal(err)
			}
			for i, card := range []*jobcard.Card{c.Card, nil} {
				s := ask(c, card)
				p.timed(c.Name, s)
				ms := judge(c.Truth, s, card != nil)
				l[i].add(ms)
				all[i].add(ms)
				for _, m := range ms {
					if m.out == wrong {
						p.miss(c.Name, words[i], m.what, m.note)
					}
				}
			}
		}
		for i := range l {
			lines[i] = append(lines[i], l[i])
		}
	}
	t.Log("\n" + strings.Join(p.misses, "\n"))
	for i := range lines {
		text := "\n" + heading() + "   " + words[i]
		for _, l := range append(lines[i], all[i]) {
			text += "\n" + l.String()
		}
		text += fmt.Sprintf("\n%-27s", "right of those answered")
		for _, c := range columns {
			text += fmt.Sprintf(" %8s", all[i].by[c].share())
		}
		t.Log(text)
		check(t, i == 0, all[i], lines[i])
	}
	t.Logf("slowest: %s, %v", p.slow, p.slowest.Round(time.Millisecond))
}

// TestNoEngines counts recordings without an engine that are taken for one, without a card and with the card of
// some engine.
func TestNoEngines(t *testing.T) {
	var p report
	text := fmt.Sprintf("\n%-16s %4s %8s %8s", "false engines", "n", "bare", "card")
	total, taken := 0, 0
	try := func(c *stand.Case, card *jobcard.Card) [2]bool {
		var seen [2]bool
		for i, k := range []*jobcard.Card{nil, card} {
			s := ask(c, k)
			p.timed(c.Name, s)
			if s.failed != "" {
				p.miss(c.Name, "", "failed", s.failed)
			}
			if seen[i] = s.engineSeen(); seen[i] {
				taken++
				p.miss(c.Name, []string{"bare", "card"}[i], "false engine",
					fmt.Sprintf("roles %v, sync %s, timing %v", s.roles, s.sync, s.timed))
			}
			total++
		}
		return seen
	}
	row := func(name string, n int, bare, carded int) {
		text += fmt.Sprintf("\n%-16s %4d %8d %8d", name, n, bare, carded)
	}
	bit := func(b bool) int {
		if b {
			return 1
		}
		return 0
	}
	for _, class := range stand.Others() {
		if !strings.HasPrefix(class, *only) {
			continue
		}
		bare, carded := 0, 0
		for seed := range uint64(tried()) {
			c, err := stand.Make(class, *first+seed)
			if err != nil {
				t.Fatal(err)
			}
			e, err := stand.Make("sweep", seed)
			if err != nil {
				t.Fatal(err)
			}
			seen := try(c, e.Card)
			bare, carded = bare+bit(seen[0]), carded+bit(seen[1])
		}
		row(class, tried(), bare, carded)
	}
	e, err := stand.Make("sweep", 0)
	if err != nil {
		t.Fatal(err)
	}
	bare, carded := 0, 0
	for _, k := range stand.Captures() {
		data, err := os.ReadFile(filepath.Join("..", "..", "waveform", "testdata", "captures", k.File))
		if err != nil {
			t.Fatal(err)
		}
		seen := try(&stand.Case{Name: k.File + " (" + k.Source + ")", File: data}, e.Card)
		bare, carded = bare+bit(seen[0]), carded+bit(seen[1])
	}
	row("captures", len(stand.Captures()), bare, carded)
	t.Log("\n" + strings.Join(p.misses, "\n"))
	t.Logf("%s\n%d of %d taken for an engine; slowest: %s, %v",
		text, taken, total, p.slow, p.slowest.Round(time.Millisecond))
	limit := falseEngines.now
	if *strict {
		limit = falseEngines.aim
	}
	if (usual() || testing.Short() || *strict) && taken > limit {
		t.Errorf("%d recordings without an engine are taken for one, more than %d", taken, limit)
	}
}

// TestCase shows one case with all that is known and was said of it:
//
//	go test ./shaft/stand -run TestCase -case ramp/3 -v
func TestCase(t *testing.T) {
	if *oneCase == "" {
		t.Skip("name a case: -case CLASS/SEED")
	}
	class, number, _ := strings.Cut(*oneCase, "/")
	seed, err := strconv.ParseUint(number, 10, 64)
	if err != nil {
		t.Fatalf("%q has no seed; write it as ramp/3", *oneCase)
	}
	makes := making()
	if slices.Contains(stand.Dialects(), class) {
		makes = stand.MakeFile
	}
	c, err := makes(class, seed)
	if err != nil {
		t.Fatal(err)
	}
	t.Logf("%s: %d edges, %.3f s to %.3f s\n%s%s",
		c.Name, len(c.Edges), float64(c.Info.Start), float64(c.End), c.CardText, c.Truth)
	cards := []*jobcard.Card{c.Card, nil}
	if c.Card == nil { // no engine: with the card of some engine
		e, err := stand.Make("sweep", seed)
		if err != nil {
			t.Fatal(err)
		}
		cards[0] = e.Card
	}
	for i, card := range cards {
		s := ask(c, card)
		text := []string{"with a card", "without a card"}[i] + ":\n" + s.words()
		for _, r := range append(s.reasons, s.notes...) {
			text += "  " + r + "\n"
		}
		if c.Truth.Engine {
			for _, m := range judge(c.Truth, s, card != nil) {
				if m.out == wrong || m.out == left {
					text += fmt.Sprintf("  %s %s: %s\n", [...]string{"", "right", "WRONG", "open"}[m.out], m.what, m.note)
				}
			}
		} else if s.engineSeen() {
			text += "  WRONG: taken for an engine\n"
		}
		t.Log(text)
	}
}
