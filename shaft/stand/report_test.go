package stand_test

import (
	"flag"
	"fmt"
	"strconv"
	"strings"
	"testing"
	"time"

	"phasewright/jobcard"
	"phasewright/shaft/stand"
)

var (
	oneCase = flag.String("case", "", "with -run TestCase: the case to show, as CLASS/SEED")
	rounds  = flag.Int("rounds", 11, "with -run TestReport: cases of each class")
	only    = flag.String("class", "", "with -run TestReport: only classes whose name begins so")
)

// TestReport lets room shaft read every case and prints how it did, class by class, and a line for each miss.
func TestReport(t *testing.T) {
	var table, misses []string
	var slowest time.Duration
	var slow string
	for _, carded := range []bool{true, false} {
		word := "bare"
		if carded {
			word = "card"
		}
		table = append(table, "", heading()+"   "+word)
		all := newLine("all")
		for _, class := range stand.Classes() {
			if !strings.HasPrefix(class, *only) {
				continue
			}
			l := newLine(class)
			for seed := range uint64(*rounds) {
				c, err := stand.Make(class, seed)
				if err != nil {
					t.Fatal(err)
				}
				var card *jobcard.Card
				if carded {
					card = c.Card
				}
				s := ask(c, card)
				if s.lasted > slowest {
					slowest, slow = s.lasted, c.Name
				}
				ms := judge(c.Truth, s, carded)
				l.add(ms)
				all.add(ms)
				for _, m := range ms {
					if m.out == wrong {
						misses = append(misses, fmt.Sprintf("%s %s %s: %s", c.Name, word, m.what, m.note))
					}
				}
			}
			table = append(table, l.String())
		}
		table = append(table, all.String())
	}
	t.Log("\n" + strings.Join(misses, "\n"))
	t.Log("\n" + strings.Join(table, "\n"))
	t.Logf("slowest: %s, %v", slow, slowest.Round(time.Millisecond))
}

// TestCase shows one case with all that is known and was said of it: go test ./shaft/stand -run TestCase -case ramp/3 -v
func TestCase(t *testing.T) {
	if *oneCase == "" {
		t.Skip("name a case: -case CLASS/SEED")
	}
	class, number, _ := strings.Cut(*oneCase, "/")
	seed, err := strconv.ParseUint(number, 10, 64)
	if err != nil {
		t.Fatalf("%q has no seed; write it as ramp/3", *oneCase)
	}
	c, err := stand.Make(class, seed)
	if err != nil {
		t.Fatal(err)
	}
	k := c.Truth
	k.Curve = nil
	t.Logf("%s: %d edges, %.3f s to %.3f s\n%s%+v", c.Name, len(c.Edges), float64(c.Info.Start), float64(c.End), c.CardText, k)
	for _, card := range []*jobcard.Card{c.Card, nil} {
		s := ask(c, card)
		word := "without a card"
		if card != nil {
			word = "with the card"
		}
		t.Logf("%s:\n%s", word, s.words())
		for _, r := range s.reasons {
			t.Log("  " + r)
		}
		if s.full != nil {
			for _, f := range s.full.Findings {
				t.Logf("  %s: %s", f.ID, f.Text)
			}
			for _, d := range s.full.Doubts {
				t.Log("  doubt: " + d)
			}
		}
		for _, m := range judge(c.Truth, s, card != nil) {
			if m.out == wrong || m.out == left {
				t.Logf("  %s %s: %s", [...]string{"", "right", "WRONG", "open"}[m.out], m.what, m.note)
			}
		}
	}
}
