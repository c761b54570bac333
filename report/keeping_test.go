package report

import (
	"fmt"
	"os"
	"strings"
	"testing"

	"phasewright/drawing"
	"phasewright/jobcard"
	"phasewright/leads"
	"phasewright/procedure"
	"phasewright/quantity"
	"phasewright/sheet"
	"phasewright/verdict"
)

// hardNames stand on the sheets of hardCard, invented, in Arabic, Greek with accents, Han, Cyrillic and one sign that
// nobody prints.
var hardNames = struct{ job, shop, owner string }{
	"سفينة الميناء, the wooden harbour launch with the very long name that a customer insists on having printed in full, main engine",
	"Ναυπηγεῖον Ἀθηνᾶς, 汽艇一号, Щука 🚤", "Ἑταιρεία قوارب 漁船"}

// hardCard is the work boat's card with hard names, in inches.
func hardCard(t testing.TB) string {
	t.Helper()
	text, err := os.ReadFile("../examples/sandpiper.yaml")
	if err != nil {
		t.Fatal(err)
	}
	const was = `{name: "Sandpiper, main engine", shop: Marlow Quay Boatyard, owner: harbour pilots}`
	if !strings.Contains(string(text), was) {
		t.Fatal("the example's job line changed")
	}
	return strings.Replace(string(text), was, fmt.Sprintf("{name: %q, shop: %q, owner: %q, units: inches}", hardNames.job,
		hardNames.shop, hardNames.owner), 1)
}

// papersOf makes every paper of a card that needs no more than the card.
func papersOf(t testing.TB, name, text string) map[string]*Paper {
	t.Helper()
	c, err := jobcard.Parse(name+".yaml", []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	s, err := sheet.Make(c)
	if err != nil {
		t.Fatal(err)
	}
	stamp := Stamp{Date: someDay, JSON: []byte(`{"offset_deg":1.9}`), Export: []byte("PK invented"), Paper: drawing.A4}
	if c.Job.Units == quantity.Inch {
		stamp.Paper = drawing.Letter
	}
	out := map[string]*Paper{}
	add := func(what string, p *Paper, err error) {
		t.Helper()
		if err != nil {
			t.Fatalf("%s, %s: %v", name, what, err)
		}
		out[what] = p
	}
	p, err := SetUp(c, s, stamp)
	add("set-up", p, err)
	p, err = Drawings(c, s, stamp)
	add("drawings", p, err)
	order, err := procedure.New(c, s)
	if err != nil {
		t.Fatal(err)
	}
	p, err = Steps(c, s, order.Lines(order.Start()), nil, stamp)
	add("steps", p, err)
	in := leads.SoundCard()
	list, err := leads.Make(c, in)
	if err != nil {
		t.Fatal(err)
	}
	p, err = Leads(c, list, in, stamp)
	add("leads", p, err)
	k, err := sheet.CaseOf(c)
	if err != nil {
		t.Fatal(err)
	}
	p, err = Spark(k, stamp)
	add("spark", p, err)
	tape, err := Tape(c, s).Pages()
	add("tape", &Paper{drawing.Document{Title: "Timing tape, " + c.Job.Name, Date: someDay, Pages: tape}}, err)
	wheel, err := drawing.WheelFace{Name: c.Job.Name, Diameter: 180, Turn: drawing.Clockwise, Marks: Tape(c, s).Marks}.Page()
	add("wheel", &Paper{drawing.Document{Title: "Degree wheel, " + c.Job.Name, Date: someDay, Pages: []*drawing.Drawing{wheel}}}, err)
	return out
}

// Every paper of every example, and of a card with names that are hard to print, is a file for keeping: as far as this
// test, qpdf, MuPDF and Poppler can tell.
func TestPapersAreForKeeping(t *testing.T) {
	cards := map[string]string{"hard": hardCard(t)}
	for _, name := range examples {
		text, err := os.ReadFile("../examples/" + name + ".yaml")
		if err != nil {
			t.Fatal(err)
		}
		cards[name] = string(text)
	}
	for name, text := range cards {
		t.Run(name, func(t *testing.T) {
			papers := papersOf(t, name, text)
			if name == "sandpiper" || name == "hard" {
				k := sandpiper(t)
				var err error
				if k.Card, err = jobcard.Parse(name, []byte(text)); err != nil {
					t.Fatal(err)
				}
				k.Stamp.Export = []byte("PK invented")
				k.Photos = []Photo{{Title: "Number the wires", File: "wires.jpg", By: "M. Quay", Data: samplePhoto(t, 6)}}
				if name == "hard" {
					k.Customer, k.Technician = hardNames.owner, hardNames.shop
				}
				if papers["proof"], err = Proof(k); err != nil {
					t.Fatal(err)
				}
				r, _ := recordBench(t, "sandpiper", wholeRun, nil)
				if papers["capture"], err = Capture(r, k.Card, verdict.OfCapture(r, verdict.Evidence{Card: k.Card}), k.Stamp); err != nil {
					t.Fatal(err)
				}
			}
			for what, p := range papers {
				data, err := p.PDF()
				if err != nil {
					t.Fatal(err)
				}
				archival(t, what, data)
				file := keep(t, "paper-"+name+"-"+what, p)
				run(t, "qpdf", "--check", file)
				info := run(t, "pdfinfo", file)
				for _, w := range []string{"Tagged:          yes", "PDF version:     1.7", "Metadata Stream: yes", "JavaScript:      no"} {
					if !strings.Contains(info, w) {
						t.Errorf("%s: pdfinfo does not say %q:\n%s", what, w, info)
					}
				}
				if tags := run(t, "pdfinfo", "-struct", file); !strings.HasPrefix(tags, "Document\n") || strings.Contains(tags, "Unknown") {
					t.Errorf("%s: the tags read %.300s", what, tags)
				}
				if said := run(t, "mutool", "info", file); strings.Contains(said, "error") {
					t.Errorf("%s: MuPDF says %s", what, said)
				}
				for _, line := range strings.Split(strings.TrimSpace(run(t, "pdffonts", file)), "\n")[2:] {
					if f := strings.Fields(line); !strings.Contains(line, "yes yes yes") {
						t.Errorf("%s: font %v is not embedded, cut and readable", what, f)
					}
				}
				if name == "hard" {
					hardNamesOn(t, what, p, run(t, "pdftotext", "-layout", file, "-"))
				}
			}
		})
	}
}

// hardNamesOn looks for the names where pdftotext reads them, and for the one line that says what was not printed.
func hardNamesOn(t *testing.T, what string, p *Paper, text string) {
	t.Helper()
	if !strings.Contains(text, "سفينة") {
		t.Errorf("%s: the name of the job is not on it: %.200s", what, text)
	}
	n := strings.Count(text, "No letters to print these signs with")
	if want := min(len(p.Warnings()), 1); n != want {
		t.Errorf("%s: %d lines say what was not printed, want %d", what, n, want)
	}
	if what == "proof" { // customer, workshop and technician
		for _, word := range []string{"Ναυπηγεῖον", "Ἀθηνᾶς", "汽艇一号", "Щука", "[U+1F6A4]", "Ἑταιρεία", "قوارب", "漁船"} {
			if !strings.Contains(text, word) {
				t.Errorf("%s: %q is not on it", what, word)
			}
		}
	}
}
