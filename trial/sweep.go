package trial

import (
	"context"

	"phasewright/bench"
)

// Shares of the sweep; assumed.
const (
	shareSound = 0.25
	sharePairs = 0.25 // of two faults at once; the rest has one
)

// one draws job number i of a sweep and has it judged. Every fault of the bench's table comes as often as the next; an
// engine is drawn that can have it.
func one(ctx context.Context, seed uint64, i int) (Scored, error) {
	table := bench.FaultTable()
	for try := uint64(0); ; try++ {
		at := seedOf(seed, i) ^ try<<40
		d := roll(at, 0x50)
		var names []string
		if u := d.Float64(); u >= shareSound {
			names = append(names, table[d.IntN(len(table))].Name)
			if other := table[d.IntN(len(table))].Name; u > 1-sharePairs && other != names[0] {
				names = append(names, other)
			}
		}
		u, kind := d.Float64(), Full
		for _, k := range Kinds() {
			if u -= k.Share; u < 0 {
				kind = k.Kind
				break
			}
		}
		j, err := newJob(at, kind, names...)
		if err != nil && try < 50 {
			continue
		}
		if err != nil {
			return Scored{}, err
		}
		return j.score(ctx, kind)
	}
}

// Sweep has the judge judge random engines, on all processors, and gives what came of each in the order of their
// numbers: the same for the same seed, however many processors there are. done is told how many are finished; nil:
// nobody. It ends with ctx.
func Sweep(ctx context.Context, engines int, seed uint64, done func(int)) ([]Scored, error) {
	out := make([]Scored, max(engines, 0))
	err := many(ctx, engines, done, func(i int) (err error) {
		out[i], err = one(ctx, seed, i)
		return err
	})
	if err != nil {
		return nil, err
	}
	return out, nil
}
