package procedure

import (
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"unicode"

	"phasewright/examples"
	"phasewright/words/plain"
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
		for _, ask := range l.Asks {
			fmt.Fprintf(&b, "   [ ] %s\n", ask.Ask)
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
				for _, long := range plain.Long(b.Do, plain.LongestDo) {
					t.Errorf("%s: «%s»: %s", name, st.ID, long)
				}
			}
		}
	}
}

// said are all texts of an order of work that a reader meets, those to act by and the others.
func said(p *Procedure) (do, other []string) {
	for _, st := range p.Steps() {
		do = append(append(do, st.Title, st.Hazard), st.Do...)
		other = append(append(other, st.Why, st.Expect), st.Notes...)
		for _, f := range st.Show {
			other = append(other, f.Name, f.Value)
		}
		for _, b := range st.Branches {
			do, other = append(do, b.Do), append(other, b.If, b.Why)
		}
		other = append(other, st.Demand.Ask)
		for _, a := range st.Demand.Also {
			other = append(other, a.Ask)
		}
	}
	for _, r := range Rules() {
		other = append(other, r.Reason, r.Evidence)
	}
	for part := range parts {
		other = append(append(other, states[part]...), acts[part]...)
	}
	for _, f := range follows {
		other = append(other, f.Why)
	}
	for _, a := range ages {
		other = append(other, a.Why)
	}
	return do, other
}

// Every text of every kind of engine is plain: short sentences, and no word in a meaning that another word has.
func TestTextsArePlain(t *testing.T) {
	for name, p := range kinds(t) {
		do, other := said(p)
		for _, text := range do {
			for _, long := range plain.Long(text, plain.LongestDo) {
				t.Errorf("%s: to be done, %s", name, long)
			}
		}
		for _, text := range other {
			for _, long := range plain.Long(text, plain.Longest) {
				t.Errorf("%s: %s", name, long)
			}
		}
		for _, text := range append(do, other...) {
			for _, fault := range plain.Faults(text) {
				t.Errorf("%s: %s", name, fault)
			}
		}
	}
}

// stems are the beginnings of the words of a text that tell something.
func stems(text string) map[string]bool {
	out := map[string]bool{}
	for _, w := range strings.FieldsFunc(strings.ToLower(text), func(r rune) bool { return !unicode.IsLetter(r) }) {
		if len(w) >= 4 {
			out[w[:4]] = true
		}
	}
	return out
}

// A branch that leads to another step names what that step is about: one word of its title, part or doing at least.
func TestBranchesNameTheStepTheyLeadTo(t *testing.T) {
	for name, p := range kinds(t) {
		for _, st := range p.Steps() {
			for _, b := range st.Branches {
				to, _ := p.Step(b.Go)
				if to.ID == st.ID {
					continue
				}
				shared := false
				about := stems(to.Title)
				for w := range stems(b.Do) {
					shared = shared || about[w]
				}
				if !shared {
					t.Errorf("%s: «%s»: %q leads to %q", name, st.ID, b.Do, to.Title)
				}
			}
		}
	}
}

// Every state that a step may wait for is told as what to do first.
func TestEveryNeedIsAnOrder(t *testing.T) {
	for name, p := range kinds(t) {
		for _, st := range p.Steps() {
			for _, n := range st.Needs {
				if n.act() == "" {
					t.Errorf("%s: «%s» needs %v, and nothing says how", name, st.ID, n)
				}
			}
		}
	}
	stop := Refusal{Kind: Order, First: is(StopTool, InPlace).act()}
	if stop.Says() != "First fit the piston stop." {
		t.Error(stop.Says())
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
