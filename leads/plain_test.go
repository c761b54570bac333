package leads_test

import (
	"testing"

	"phasewright/examples"
	"phasewright/jobcard"
	"phasewright/leads"
	"phasewright/words/plain"
)

// What is said of the test leads and lamps of every example is plain, at a sound card and at an input of 10 V.
func TestTextsArePlain(t *testing.T) {
	sentences, total := 0, 0
	check := func(name, text string) {
		for _, one := range plain.Sentences(text) {
			sentences, total = sentences+1, total+plain.Words(one)
		}
		for _, long := range plain.Long(text, plain.Longest) {
			t.Errorf("%s: %s", name, long)
		}
		for _, fault := range plain.Faults(text) {
			t.Errorf("%s: %s", name, fault)
		}
	}
	strong := leads.SoundCard()
	strong.FullScale, strong.Stands = 10, 40
	for _, e := range examples.Cards() {
		c, err := jobcard.Parse(e.Name, []byte(e.YAML))
		if err != nil {
			t.Fatal(err)
		}
		for _, in := range []leads.Input{leads.SoundCard(), strong} {
			list, err := leads.Make(c, in)
			if err != nil {
				t.Fatal(err)
			}
			for _, l := range list {
				check(e.Name, l.Title)
				for _, line := range l.Lines(in) {
					check(e.Name, line.Text)
				}
			}
			for _, text := range leads.RestsOn(list, in) {
				check(e.Name, text)
			}
		}
	}
	if mean := float64(total) / float64(sentences); mean > plain.Average || sentences < 100 {
		t.Errorf("%d sentences of %.1f words on average, more than %d", sentences, mean, plain.Average)
	} else {
		t.Logf("%d sentences of %.1f words on average", sentences, mean)
	}
}
