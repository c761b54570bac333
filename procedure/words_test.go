package procedure

import (
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"phasewright/examples"
)

var update = flag.Bool("update", false, "write the step lists anew")

// listed is the step list of a card as text, as it is read aloud.
func listed(p *Procedure) string {
	var b strings.Builder
	part := ""
	for i, l := range p.Lines(p.Start()) {
		if l.Part != part {
			part = l.Part
			fmt.Fprintf(&b, "%s\n\n", strings.ToUpper(part))
		}
		fmt.Fprintf(&b, "%d. %s\n   ! %s\n", i+1, l.Title, l.Hazard)
		for _, one := range l.Do {
			fmt.Fprintf(&b, "   %s\n", one)
		}
		for _, row := range l.If {
			fmt.Fprintf(&b, "   if %s | %s | %s\n", row[0], row[1], row[2])
		}
		for _, f := range p.steps[i].Show {
			fmt.Fprintf(&b, "   = %s: %s\n", f.Name, f.Value)
		}
		for _, ask := range l.Proof {
			fmt.Fprintf(&b, "   [ ] %s\n", ask)
		}
		b.WriteByte('\n')
	}
	return b.String()
}

// The step list of every example stands as text in testdata; a difference is looked at, then written with -update.
func TestStepLists(t *testing.T) {
	for _, e := range examples.Cards() {
		name := filepath.Join("testdata", "steps", e.Name+".txt")
		got := listed(orderOf(t, e.Name))
		if *update {
			if err := os.MkdirAll(filepath.Dir(name), 0o755); err != nil {
				t.Fatal(err)
			}
			if err := os.WriteFile(name, []byte(got), 0o644); err != nil {
				t.Fatal(err)
			}
			continue
		}
		want, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		if got != string(want) {
			t.Errorf("%s is not the step list any more: look at the difference, then run with -update", name)
		}
	}
}

// Where something is to be done, a sentence holds one action and at most 15 words; a title is one line.
func TestSentencesAreShort(t *testing.T) {
	for name, p := range kinds(t) {
		for _, st := range p.Steps() {
			if len([]rune(st.Title)) > 76 {
				t.Errorf("%s: the title of «%s» has %d letters: %s", name, st.ID, len([]rune(st.Title)), st.Title)
			}
			for _, one := range st.Do {
				if n := len(strings.Fields(one)); n > 15 || !strings.HasSuffix(one, ".") || strings.Count(one, ". ") > 0 {
					t.Errorf("%s: «%s»: %d words or no plain sentence: %s", name, st.ID, n, one)
				}
			}
			if len(st.Do) == 0 || len(st.Do) > 14 {
				t.Errorf("%s: «%s» has %d sentences", name, st.ID, len(st.Do))
			}
			for _, b := range st.Branches {
				if n := len(strings.Fields(b.Do)); n > 15 {
					t.Errorf("%s: «%s»: %d words: %s", name, st.ID, n, b.Do)
				}
			}
		}
	}
}

// Every step is complete, every branch leads somewhere, every lock has reason, evidence and source.
func TestTablesAreComplete(t *testing.T) {
	if len(rules) > 64 {
		t.Fatalf("%d rules do not fit the set of 64", len(rules))
	}
	ids := map[string]bool{}
	for _, r := range Rules() {
		if r.ID == "" || ids[r.ID] || r.Reason == "" || r.Evidence == "" || r.Source == "" || len(r.Forbids) == 0 {
			t.Errorf("rule %+v is incomplete or there twice", r)
		}
		ids[r.ID] = true
	}
	for name, p := range kinds(t) {
		seen := map[StepID]bool{}
		part, parted := "", map[string]bool{}
		for _, st := range p.Steps() {
			if st.ID == "" || seen[st.ID] || st.Title == "" || st.Why == "" || len(st.Demand.Kinds) == 0 || st.Demand.Ask == "" || len(st.After) == 0 {
				t.Errorf("%s: «%s» is incomplete or there twice", name, st.ID)
			}
			seen[st.ID] = true
			if st.Part != part && parted[st.Part] {
				t.Errorf("%s: the part %q comes twice", name, st.Part)
			}
			part, parted[st.Part] = st.Part, true
			for _, b := range st.Branches {
				if _, ok := p.Step(b.Go); !ok || b.If == "" || b.Why == "" || b.Do == "" {
					t.Errorf("%s: «%s» branches to %q: %+v", name, st.ID, b.Go, b)
				}
			}
			if d := st.Demand; (d.Kinds[0] == Number && len(d.Options) == 0 || d.Kinds[0] == Reading) && (d.Unit == "" || !d.Possible.Set()) {
				t.Errorf("%s: «%s» asks for a number without unit or limits", name, st.ID)
			}
		}
	}
}

// Whatever condition a step needs, some step brings about.
func TestEveryPartHasAProvider(t *testing.T) {
	for name, p := range kinds(t) {
		for _, st := range p.Steps() {
			for _, n := range st.Needs {
				if id, ok := p.provider(p.AsFound(), n); !ok && n.Part != Unit {
					t.Errorf("%s: «%s» needs %v, and «%s» is no step", name, st.ID, n, id)
				}
			}
		}
	}
}
