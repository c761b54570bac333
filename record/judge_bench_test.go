package record

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"phasewright/bench"
)

// BenchmarkJudge judges a job of 40 readings and two recordings, invented. First is the whole from the events on, as
// when a book is opened; next what a page costs once one more reading has come.
func BenchmarkJudge(b *testing.B) {
	s := carded(b)
	s.ran(bench.Sweep(200, 4200, 20e6), nil)
	s.ran(bench.Sweep(750, 4000, 16e6), nil)
	chance := rand.New(rand.NewPCG(1, 2))
	for i := range 40 {
		s.read(fmt.Sprint(i), 800+float64(i%8)*400, 8+0.3*chance.NormFloat64())
	}
	before := *s
	before.events = s.events[:len(s.events)-1]
	before.line.Version--
	judge := func(j *Job) {
		if _, err := j.Judge(); err != nil {
			b.Fatal(err)
		}
	}
	b.Run("first", func(b *testing.B) {
		for b.Loop() {
			judge(s.job())
		}
	})
	b.Run("next", func(b *testing.B) {
		known := before.job()
		judge(known)
		for b.Loop() {
			judge(known.Fold(s.line, s.events[len(s.events)-1:]))
		}
	})
}
