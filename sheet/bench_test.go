package sheet_test

import (
	"testing"

	"phasewright/examples"
	"phasewright/jobcard"
	"phasewright/sheet"
)

func BenchmarkMake(b *testing.B) {
	c, err := jobcard.Parse("sandpiper.yaml", []byte(examples.Cards()[0].YAML))
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		if _, err := sheet.Make(c); err != nil {
			b.Fatal(err)
		}
	}
}
