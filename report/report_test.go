package report

import (
	"os"
	"path/filepath"
	"testing"
)

func keep(t testing.TB, name string, p *Paper) string {
	t.Helper()
	dir := os.Getenv("LOOK")
	if dir == "" {
		dir = t.TempDir()
	}
	data, err := p.PDF()
	if err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(dir, name+".pdf")
	if err := os.WriteFile(file, data, 0o644); err != nil {
		t.Fatal(err)
	}
	return file
}

func legible(t testing.TB, name string, p *Paper) {
	t.Helper()
	for i, d := range p.Doc.Pages {
		for _, c := range d.Clashes() {
			t.Errorf("%s, page %d: %q lies over %q", name, i+1, c[0].Text, c[1].Text)
		}
		for _, b := range d.Outside() {
			t.Errorf("%s, page %d: %q leaves the sheet", name, i+1, b.Text)
		}
	}
}

func TestSetUpSheets(t *testing.T) {
	for _, name := range []string{"sandpiper", "bluff-hill", "heron-ferry", "mill-pump", "tern-single", "kestrel-v12"} {
		c, s := card(t, name)
		p, err := SetUp(c, s, Stamp{Date: someDay})
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		legible(t, name, p)
		keep(t, "set-up-"+name, p)
		t.Log(name, len(p.Doc.Pages), "pages")
	}
}

func TestProofDocument(t *testing.T) {
	p, err := Proof(sandpiper(t))
	if err != nil {
		t.Fatal(err)
	}
	legible(t, "proof", p)
	keep(t, "proof", p)
	t.Log(len(p.Doc.Pages), "pages")
}
