package words_test

import (
	"strings"
	"testing"

	"phasewright/words"
	"phasewright/words/plain"
)

// Each entry is there once, in order, and is itself plain.
func TestEntriesArePlain(t *testing.T) {
	last, ids := "", map[string]bool{}
	for _, e := range words.Entries() {
		if ids[e.ID] || e.ID < last || e.Word == "" || !strings.HasSuffix(e.Means, ".") {
			t.Errorf("%+v stands twice, out of order, or is incomplete", e)
		}
		ids[e.ID], last = true, e.ID
		for _, long := range plain.Long(e.Means, plain.LongestDo) {
			t.Errorf("%s: %s", e.Word, long)
		}
		for _, fault := range plain.Faults(e.Means) {
			t.Errorf("%s: %s", e.Word, fault)
		}
	}
	if len(ids) < 40 {
		t.Errorf("%d entries", len(ids))
	}
}

// A word is marked where it first stands on a page, the longest that fits, and never within another word.
func TestWordsAreMarkedOnce(t *testing.T) {
	seen := map[string]bool{}
	said := func(text string) string {
		var b strings.Builder
		for _, p := range words.Mark(text, seen) {
			if p.Entry != nil {
				b.WriteString("[" + p.Entry.ID + ":" + p.Text + "]")
			} else {
				b.WriteString(p.Text)
			}
		}
		return b.String()
	}
	for _, c := range [][2]string{
		{"Lay shims. Set the trigger lead at 60° BTDC.", "Lay [shim:shims]. Set the [lead:trigger lead] at 60° [btdc:BTDC]."},
		{"The trigger lead, 58° BTDC; the cap's tower.", "The trigger lead, 58° BTDC; the [cap:cap]'s [tower:tower]."},
		{"Capital letters escape the capture.", "Capital letters escape the [captures:capture]."},
		{"", ""},
	} {
		if got := said(c[0]); got != c[1] {
			t.Errorf("%q, want %q", got, c[1])
		}
	}
}
