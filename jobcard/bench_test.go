package jobcard_test

import (
	"testing"

	"phasewright/jobcard"
)

func BenchmarkParse(b *testing.B) {
	data := []byte(examples(b)["sandpiper.yaml"])
	for b.Loop() {
		if _, err := jobcard.Parse("sandpiper.yaml", data); err != nil {
			b.Fatal(err)
		}
	}
}
