package main

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// heldCase is what stands of a shop case in suspects/testdata/shop that was written by hand: its card, and what was
// seen.
type heldCase struct{ name, card, seen string }

// shopCases reads the cases of development. The whole format is read by the tests of suspects.
func shopCases(t *testing.T) (out []heldCase) {
	t.Helper()
	files, err := filepath.Glob("../../suspects/testdata/shop/dev-*.txt")
	if err != nil || len(files) == 0 {
		t.Fatal("no cases: ", err)
	}
	for _, file := range files {
		data, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		for _, text := range strings.Split("\n"+string(data), "\n== ")[1:] {
			head, rest, ok := strings.Cut(text, "\n-- seen\n")
			seen, _, _ := strings.Cut(rest, "\n-- would show")
			name, head, _ := strings.Cut(head, "\n")
			card := regexp.MustCompile(`(?m)^card: (\S+)`).FindStringSubmatch(head)
			if !ok || card == nil {
				t.Fatalf("%s: %q has no card or nothing that was seen", file, name)
			}
			c := heldCase{name, "../../examples/" + card[1] + ".yaml", seen + "\n"}
			if _, err := os.Stat(c.card); err != nil {
				c.card = "../../suspects/testdata/cards/" + card[1] + ".yaml"
			}
			out = append(out, c)
		}
	}
	return out
}

// One reads the answer beside the engine: half of those to the shop's cases have at most 120 words, and no shares add
// to more than a hundred.
func TestSuspectsSayItInFewWords(t *testing.T) {
	if testing.Short() {
		t.Skip("NOT CHECKED with -short: the words of every shop case")
	}
	share := regexp.MustCompile(`(?m)^ +(\d+)\p{Zs}%`)
	var words []int
	for _, c := range shopCases(t) {
		var out, errs bytes.Buffer
		if status := run(context.Background(), []string{"suspects", c.card, "-"}, strings.NewReader(c.seen), &out,
			&errs); status != 0 {
			t.Errorf("%s: status %d: %s", c.name, status, errs.String())
			continue
		}
		text := out.String()
		words = append(words, len(strings.Fields(text)))
		sum := 0
		for _, m := range share.FindAllStringSubmatch(text, -1) {
			n, _ := strconv.Atoi(m[1])
			sum += n
		}
		if sum > 100 {
			t.Errorf("%s: shares add to %d\n%s", c.name, sum, text)
		}
		if strings.Contains(text, " bit") {
			t.Errorf("%s speaks of bits:\n%s", c.name, text)
		}
		if first := share.FindStringIndex(text); strings.HasPrefix(text, "VERDICT    fails") && first != nil &&
			strings.HasPrefix(strings.TrimSpace(text[first[1]:]), "nothing wrong") {
			t.Errorf("%s: the judge and the ranking disagree:\n%s", c.name, text)
		}
		looks := strings.Count(text, " min)")
		if settled := strings.Contains(text, settled); settled && looks > 0 || looks > 2 {
			t.Errorf("%s: %d looks, settled %v:\n%s", c.name, looks, settled, text)
		}
		if os.Getenv("PHASEWRIGHT_SAID") != "" {
			t.Logf("%s (%d words)\n%s", c.name, len(strings.Fields(text)), text)
		}
	}
	slices.Sort(words)
	middle := words[len(words)/2]
	t.Logf("words of %d answers: median %d, most %d", len(words), middle, words[len(words)-1])
	if middle > 120 {
		t.Errorf("the median answer has %d words", middle)
	}
}
