package trial

import (
	"context"
	"runtime"
	"sync/atomic"

	"phasewright/beside"
	"phasewright/quantity"
)

// seedStep keeps the engines of one seed apart from those of the next.
const seedStep = 0x9e3779b97f4a7c15

// seedOf is the seed of engine number i.
func seedOf(seed uint64, i int) uint64 { return seed*seedStep + uint64(i) }

// many does work for engines 0 to n−1 on all processors, in no order, until one fails or ctx ends. done is told how
// many are finished; nil: nobody.
func many(ctx context.Context, n int, done func(int), work func(i int) error) error {
	if n < 1 {
		return quantity.Bad("engines", "give 1 or more", "%d", n)
	}
	errs := make([]error, n)
	var next, finished atomic.Int64
	var failed atomic.Bool
	beside.All(min(runtime.GOMAXPROCS(0), n), func(int) {
		for ctx.Err() == nil && !failed.Load() {
			i := int(next.Add(1)) - 1
			if i >= n {
				return
			}
			if errs[i] = work(i); errs[i] != nil {
				failed.Store(true)
			}
			if k := int(finished.Add(1)); done != nil {
				done(k)
			}
		}
	})
	if err := ctx.Err(); err != nil {
		return err
	}
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	return nil
}
