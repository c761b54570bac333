package plain

import (
	"slices"
	"strings"
	"testing"
)

// Every word of the list is found in its other meaning, and left alone in the one that it has.
func TestDoublesAreToldApart(t *testing.T) {
	for _, c := range []struct {
		text string
		word string // that is used in another meaning; "" where all is well
	}{
		{"Plug leads can shock you.", "lead"}, {"Put the light on the lead of cylinder 1.", "lead"},
		{"Exhaust led outside.", "lead"}, {"Leads clear of the belts.", "lead"}, {"A lead extension.", "lead"},
		{"Raise the lead to 60.5°.", ""}, {"The lead mark stands at the pointer.", ""},
		{"Two trigger leads were tried.", ""}, {"Use test leads rated for it.", ""},
		{"This step is locked.", "locked"}, {"Done against a lock.", "locked"}, {"Lock the remote start.", "locked"},
		{"Lock the timing at 8°.", ""}, {"The timing is locked.", ""},
		{"The oil lamp stays lit.", "light"}, {"Fuel vapour lights.", "light"}, {"A spark lights it.", "light"},
		{"Read the light at idle.", ""}, {"The lamp comes on.", ""},
		{"Crank for 10 s at most.", "crank"}, {"Turn the key to run, never to crank.", "crank"},
		{"Stop it; crank it again.", "crank"}, {"At cranking the spark may be too weak.", ""},
		{"Turn the crank only the way it runs.", ""}, {"The crank signal goes high.", ""},
	} {
		faults := Faults(c.text)
		if c.word == "" && len(faults) > 0 {
			t.Errorf("%q: %s", c.text, faults)
		}
		if c.word != "" && (len(faults) != 1 || !strings.Contains(faults[0], "("+c.word+" means ")) {
			t.Errorf("%q is not found to misuse %s: %v", c.text, c.word, faults)
		}
	}
}

// A long sentence is found among short ones; numbers, names of fields and No. 1 end none.
func TestSentencesAreCounted(t *testing.T) {
	text := "Read No. 1 again at 2\u2009200 rpm. Write damper.zero_mark = 0.5 deg (± 0.1)! Is it so?\nYes"
	want := []string{"Read No 1 again at 2200 rpm", "Write damper.zero_mark = 0.5 deg (± 0.1)", "Is it so", "Yes"}
	if got := Sentences(text); !slices.Equal(got, want) {
		t.Errorf("%q", got)
	}
	if n := Words("± 0.5° of – the 2\u2009200\u2009rpm"); n != 4 {
		t.Errorf("%d words", n)
	}
	long := strings.Repeat("word ", 16) + "end."
	if got := Long("Short. "+long, LongestDo); len(got) != 1 || !strings.HasPrefix(got[0], "17 words: ") {
		t.Errorf("%q", got)
	}
	if got := Long("In rotor direction: "+strings.Repeat("tower 1 → cylinder 2, ", 12)+"none", Longest); got != nil {
		t.Errorf("a list is taken for a sentence: %q", got)
	}
}
