package job

import (
	"net/url"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"phasewright/jobcard"
	"phasewright/record"
)

// Whatever is typed into a text field comes back as it was typed, blanks at the ends apart.
func TestTypedTextComesBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		typed := rapid.OneOf(rapid.String(), rapid.SampledFrom([]string{"yes", "null", "~", "1e3", "0x10", "a: b", "- a", "# no", "a # b", "'", `"`, "{a}", "[a", "a]", "*a", "&a", "!a", "%a", "@a", "`a`", "|", ">", "? a", "true", "2026-01-02", "a\tb", "é", "👍"})).Draw(t, "typed")
		if strings.ContainsFunc(typed, func(r rune) bool {
			return r < 0x20 || r == 0x7f || r == 0xfffd || r >= 0x80 && r < 0xa0 || r == 0xfeff || r == 0x2028 || r == 0x2029
		}) || strings.HasPrefix(strings.TrimSpace(typed), "[") {
			t.Skip("a text field takes one line, and the parser refuses control characters")
		}
		typed = strings.TrimSpace(typed)
		text := cardText(map[string]string{"job.name": typed, "job.shop": "x"})
		if got := cardValues(text)["job.name"]; got != typed {
			t.Fatalf("typed %q, wrote %q, got %q", typed, text, got)
		}
	})
}

// What is typed into the form goes through the bounds of the card's parser: the YAML library alone takes half a minute
// for this text.
func TestCardValuesAreBounded(t *testing.T) {
	start := time.Now()
	if v := cardValues(strings.Repeat("&a ", 40000)); len(v) > 0 {
		t.Errorf("values of a text that no card is: %.100v", v)
	}
	if took := time.Since(start); took > time.Second {
		t.Errorf("taken apart in %v", took)
	}
}

// Every card that ships goes through the form and comes out as the same card.
func TestFormGivesTheSameCard(t *testing.T) {
	all, err := filepath.Glob("../../examples/*.yaml")
	if err != nil || len(all) == 0 {
		t.Fatal("no examples", err)
	}
	for _, path := range all {
		text := example(t, strings.TrimSuffix(filepath.Base(path), ".yaml"))
		before, mistakes := record.ParseCard(text)
		if mistakes != nil {
			t.Fatalf("%s: %v", path, mistakes)
		}
		form := url.Values{}
		panels := cardForm(asked{values: cardValues(text)})
		all := panels.Needed
		for _, s := range panels.Sections {
			all = append(all, s.Fields...)
		}
		for _, f := range all {
			form.Set(f.Name(), f.Figure)
			form.Set(f.LimitName(), f.Limit)
			form.Set(f.UnitName(), f.Unit)
		}
		values, _ := formValues(form)
		again := cardText(values)
		after, mistakes := record.ParseCard(again)
		if mistakes != nil {
			t.Errorf("%s: through the form: %v\n%s", path, mistakes, again)
			continue
		}
		same := reflect.DeepEqual(before.Doubts(), after.Doubts()) // all but the text itself and what follows from the rest
		a, b := reflect.ValueOf(*before), reflect.ValueOf(*after)
		for i := range a.NumField() {
			same = same && (!a.Type().Field(i).IsExported() || reflect.DeepEqual(a.Field(i).Interface(), b.Field(i).Interface()))
		}
		for _, f := range jobcard.Fields() {
			same = same && before.Assumed(f.Path) == after.Assumed(f.Path)
		}
		if !same {
			t.Errorf("%s: the form changed the card:\n%s", path, again)
		}
	}
}

// The form offers only words that the parser takes.
func TestWordsOfferedAreWordsTaken(t *testing.T) {
	base := cardValues(example(t, "sandpiper"))
	choices := 0
	for _, f := range jobcard.Fields() {
		path, words := f.Path, f.Words
		if len(words) > 0 {
			choices++
		}
		for _, w := range words {
			values := map[string]string{}
			for k, v := range base {
				values[k] = v
			}
			values[path] = w
			_, mistakes := record.ParseCard(cardText(values))
			for _, m := range mistakes {
				if m.Path == path && strings.Contains(m.Problem, "not known") {
					t.Errorf("%s: %q is offered and refused: %v", path, w, m)
				}
			}
		}
	}
	if choices < 10 {
		t.Errorf("only %d fields offer words", choices)
	}
}

// example is a job card that the repository ships.
func example(t testing.TB, name string) string {
	t.Helper()
	text, err := os.ReadFile("../../examples/" + name + ".yaml")
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}
