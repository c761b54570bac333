package report

import "testing"

func BenchmarkProof(b *testing.B) {
	k := sandpiper(b)
	for b.Loop() {
		p, err := Proof(k)
		if err != nil {
			b.Fatal(err)
		}
		if _, err := p.PDF(); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkSetUp(b *testing.B) {
	c, s := card(b, "sandpiper")
	for b.Loop() {
		p, err := SetUp(c, s, Stamp{Date: someDay})
		if err != nil {
			b.Fatal(err)
		}
		if _, err := p.PDF(); err != nil {
			b.Fatal(err)
		}
	}
}
