package job

import (
	"reflect"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// Each row by hand: what a field was, what each of two people made of it, and what then stands or clashes.
func TestMergeOfAField(t *testing.T) {
	const none = ""
	for _, c := range []struct {
		path, was, mine, theirs string
		want                    string
		clash                   bool
	}{
		{"engine.bore", "94 mm", "94 mm", "94 mm", "94 mm", false},
		{"engine.bore", "94 mm", "97 mm", "94 mm", "97 mm", false},
		{"engine.bore", "94 mm", "94 mm", "99 mm", "99 mm", false},
		{"engine.bore", "94 mm", "97 mm", "97 mm", "97 mm", false},
		{"engine.bore", "94 mm", "97 mm", "99 mm", "97 mm", true},
		{"engine.bore", "94 mm", none, "94 mm", none, false},
		{"engine.bore", "94 mm", "94 mm", none, none, false},
		{"engine.bore", "94 mm", none, none, none, false},
		{"engine.bore", "94 mm", none, "99 mm", none, true},
		{"engine.bore", "94 mm", "97 mm", none, "97 mm", true},
		{"engine.bore", none, "97 mm", none, "97 mm", false},
		{"engine.bore", none, none, "97 mm", "97 mm", false},
		{"engine.bore", none, "97 mm", "99 mm", "97 mm", true},
		// another spelling of the same is no change; theirs, which is saved, stands
		{"engine.bore", "94 mm", "94mm", "99 mm", "99 mm", false},
		{"engine.bore", "94 mm", "97 mm", "97mm", "97mm", false},
		{"damper.diameter", "168 mm ± 0.3 mm", "168 ± 0.3 mm", "168 mm ± 0.5 mm", "168 mm ± 0.5 mm", false},
		{"engine.firing_order", "[1, 5, 3, 6, 2, 4]", "1-5-3-6-2-4", "[1, 4, 2, 6, 3, 5]", "[1, 4, 2, 6, 3, 5]", false},
		{"engine.firing_order", none, "153624", "[1, 5, 3, 6, 2, 4]", "[1, 5, 3, 6, 2, 4]", false},
		{"engine.rotation", "clockwise", "CW", "ccw", "ccw", false},
		{"job.note", "a", "b", "c", "b", true},
		{"no.such_field", "a", "b", "c", "b", true},
		{"no.such_field", "a", "b", "a", "b", false},
	} {
		card := func(v string) map[string]string {
			if v == none {
				return nil
			}
			return map[string]string{c.path: v}
		}
		merged, clashes := mergeCards(card(c.was), card(c.mine), card(c.theirs))
		if merged[c.path] != c.want || len(clashes) != map[bool]int{true: 1}[c.clash] {
			t.Errorf("%s: %q, mine %q, theirs %q: %q with %v", c.path, c.was, c.mine, c.theirs, merged[c.path], clashes)
		}
		if c.clash && clashes[0] != (clash{c.path, c.was, c.mine, c.theirs}) {
			t.Errorf("%+v", clashes[0])
		}
	}
}

var (
	somePaths  = rapid.SampledFrom([]string{"job.name", "engine.bore", "engine.stroke", "engine.rotation", "coil.target", "tolerance", "who.knows"})
	someValues = rapid.SampledFrom([]string{"1 mm", "2 mm", "3", "clockwise", "CW"})
	someCard   = rapid.MapOf(somePaths, someValues)
)

// Whatever two people make of a card: nothing that one alone changed is lost, nothing that nobody changed moves, who is
// called mine does not matter but where they clash, and merging again changes nothing.
func TestMergeLosesNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		was, mine, theirs := someCard.Draw(t, "was"), someCard.Draw(t, "mine"), someCard.Draw(t, "theirs")
		merged, clashes := mergeCards(was, mine, theirs)
		mirrored, mirroredClashes := mergeCards(was, theirs, mine)
		if len(clashes) != len(mirroredClashes) {
			t.Fatalf("%v and %v", clashes, mirroredClashes)
		}
		for _, f := range fieldsIn(was, mine, theirs) {
			w, m, o, got := was[f.Path], mine[f.Path], theirs[f.Path], merged[f.Path]
			i := slices.IndexFunc(clashes, func(c clash) bool { return c.Path == f.Path })
			switch {
			case i >= 0:
				if f.Same(m, o) || f.Same(m, w) || f.Same(o, w) {
					t.Fatalf("%s clashes over nothing: %q %q %q", f.Path, w, m, o)
				}
			case !f.Same(m, w) && !f.Same(got, m) || !f.Same(o, w) && !f.Same(got, o):
				t.Fatalf("%s: %q, mine %q, theirs %q, merged %q", f.Path, w, m, o, got)
			case f.Same(m, w) && f.Same(o, w) && !f.Same(got, w):
				t.Fatalf("%s moved from %q to %q by itself", f.Path, w, got)
			case !f.Same(got, mirrored[f.Path]):
				t.Fatalf("%s: %q one way and %q the other", f.Path, got, mirrored[f.Path])
			}
		}
		again, more := mergeCards(theirs, merged, theirs)
		if len(more) > 0 || !sameCard(again, merged) {
			t.Fatalf("again: %v %v", again, more)
		}
		if alone, none := mergeCards(was, mine, was); len(none) > 0 || !sameCard(alone, mine) {
			t.Fatalf("with nobody else: %v %v", alone, none)
		}
	})
}

// By hand, as two people edit one text.
func TestMergeOfLines(t *testing.T) {
	text := func(s string) string { return strings.ReplaceAll(s, " ", "\n") }
	for _, c := range []struct{ was, mine, theirs, want string }{
		{"a b c d", "a B c d", "a b c D", "a B c D"},
		{"a b c d", "a b c d", "a b", "a b"},
		{"a b c d", "x a b c d", "a b c d y", "x a b c d y"},
		{"a b c d", "a B c d", "a B c d", "a B c d"},
		{"a b c d", "a c d", "a b c D", "a c D"},
		{"a b c d", "a B c d", "a X c d", ""},
		{"a b c d", "a B c d", "a b C d", ""}, // lines that touch
		{"", "a", "b", ""},
	} {
		got, ok := mergeLines(text(c.was), text(c.mine), text(c.theirs))
		if ok != (c.want != "") || ok && got != text(c.want) {
			t.Errorf("%q, %q, %q: %q %v", c.was, c.mine, c.theirs, got, ok)
		}
	}
	if _, ok := mergeLines("", strings.Repeat("\n", 64<<10), "b"); ok {
		t.Error("merged a text of 65 536 lines")
	}
}

func TestMergeOfLinesKeepsOneSidesChanges(t *testing.T) {
	someLines := rapid.SliceOfN(rapid.SampledFrom([]string{"a", "b", "c", "# d"}), 0, 12)
	rapid.Check(t, func(t *rapid.T) {
		was, mine := strings.Join(someLines.Draw(t, "was"), "\n"), strings.Join(someLines.Draw(t, "mine"), "\n")
		theirs := strings.Join(someLines.Draw(t, "theirs"), "\n")
		for _, c := range [][2]string{{mine, was}, {was, mine}, {mine, mine}} {
			if got, ok := mergeLines(was, c[0], c[1]); !ok || got != mine {
				t.Fatalf("%q: %q and %q give %q %v", was, c[0], c[1], got, ok)
			}
		}
		got, ok := mergeLines(was, mine, theirs)
		if other, too := mergeLines(was, theirs, mine); ok != too || got != other {
			t.Fatalf("%q %v one way, %q %v the other", got, ok, other, too)
		}
	})
}

func TestDifferingLines(t *testing.T) {
	got, ok := differingLines("a\nb\nc\nd", "a\nB\nc")
	want := []apart{{[]string{"b"}, []string{"B"}}, {[]string{"d"}, []string{}}}
	if !ok || !reflect.DeepEqual(got, want) {
		t.Errorf("%q", got)
	}
	if got, _ := differingLines("a\nb", "a\nb"); len(got) > 0 {
		t.Error(got)
	}
}
