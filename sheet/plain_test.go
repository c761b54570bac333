package sheet_test

import (
	"strings"
	"testing"

	"phasewright/examples"
	"phasewright/jobcard"
	"phasewright/sheet"
	words "phasewright/words/plain"
)

// variants are the example cards, and cards made of them that bring out what those do not say: odd fire, inches, stops,
// what nobody measured.
func variants(t *testing.T) map[string]string {
	t.Helper()
	out := map[string]string{}
	for _, e := range examples.Cards() {
		out[e.Name] = string(e.YAML)
		out[e.Name+", inches"] = strings.Replace(string(e.YAML), "job:         {", "job: {units: in, ", 1)
	}
	swap := func(name, from string, pairs ...string) {
		text := out[from]
		for i := 0; i < len(pairs); i += 2 {
			if !strings.Contains(text, pairs[i]) {
				t.Fatalf("%s does not hold %q", from, pairs[i])
			}
			text = strings.Replace(text, pairs[i], pairs[i+1], 1)
		}
		out[name] = text
	}
	swap("weak", "sandpiper", "dwell: 3.2 ms", "dwell: 1.2 ms")
	swap("long", "sandpiper", "dwell: 3.2 ms", "dwell: 7 ms")
	swap("no dwell", "sandpiper", "dwell: 3.2 ms, ", "")
	swap("wide gap", "sandpiper", "plug_gap: 0.8 mm", "plug_gap: 1.6 mm")
	swap("unknown gear", "sandpiper", "gear_material: bronze, cam_material: billet steel, ", "")
	return out
}

// Every text of every sheet is plain: short sentences, short on average too, and no word in a meaning that another has.
func TestTextsArePlain(t *testing.T) {
	sentences, total := 0, 0
	for name, yaml := range variants(t) {
		c, err := jobcard.Parse(name, []byte(yaml))
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		s, err := sheet.Make(c)
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		said := append([]string{}, s.Cautions...)
		for _, it := range s.Items {
			said = append(said, it.Title, it.Text, it.Because, it.Ignored)
		}
		for _, e := range s.Expect {
			said = append(said, e.Why)
		}
		for _, text := range said {
			for _, one := range words.Sentences(text) {
				sentences, total = sentences+1, total+words.Words(one)
			}
			for _, long := range words.Long(text, words.Longest) {
				t.Errorf("%s: %s", name, long)
			}
			for _, fault := range words.Faults(text) {
				t.Errorf("%s: %s", name, fault)
			}
		}
		for _, text := range s.Cautions {
			for _, long := range words.Long(text, words.LongestDo+1) {
				t.Logf("%s: a caution, %s", name, long)
			}
		}
	}
	if mean := float64(total) / float64(sentences); mean > words.Average {
		t.Errorf("a sentence has %.1f words on average, more than %d", mean, words.Average)
	} else {
		t.Logf("a sentence has %.1f words on average", mean)
	}
}
