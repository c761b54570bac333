package waveform

import (
	"math/rand/v2"
	"slices"
	"testing"
)

// TestLeapersAgree: what a leaper finds behind any block that it may begin behind is what the detector finds that followed all samples; and where the leaper
// does not begin as the detector stands, it is not adopted. Invented waves: squares with droop, noise, slow edges, rests.
func TestLeapersAgree(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 2))
	adopted, tried := 0, 0
	for range 3000 {
		v := make([]float64, 16*(20+rng.IntN(40)))
		level, base, target := 1.0, 0.0, 1.0
		noise, droop, slow := 0.1*rng.Float64(), 0.03*rng.Float64(), 0.2+0.8*rng.Float64()
		for i := range v {
			if rng.IntN(60) == 0 {
				target = -target
			}
			level += (target - level) * slow
			base += (level - base) * droop
			v[i] = level - base + noise*rng.NormFloat64()
		}
		edges, all := []Edge(nil), []Edge(nil)
		var slowA, slowB, repeatsA, repeatsB int64
		pair := func(emit func(Edge), slow, repeats *int64) [3]detector {
			tooth := newByLevels(-0.6, 0.6, 0.3, emit, slow)
			tooth.tooth = true
			return [3]detector{newByLevels(-0.6, 0.6, 0.3, emit, slow), newByChanges(0.9, 4, emit, repeats), tooth}
		}
		kind := rng.IntN(3)
		one := pair(func(e Edge) { all = append(all, e) }, &slowA, &repeatsA)[kind]
		two := pair(func(e Edge) { edges = append(edges, e) }, &slowB, &repeatsB)[kind]
		feed := func(d detector, from, to int) {
			for i := from; i < to; i += 16 {
				lo, hi := extremes(v[i : i+16])
				d.feed(v[i:i+16], &clock{interval: 1e-3, row: int64(i)}, lo, hi)
			}
		}
		feed(one, 0, len(v))
		leap := two.(adopter).apart()
		from := 0
		for i := 16 * rng.IntN(len(v)/16); i+16 < len(v) && from == 0; i += 16 {
			if lo, hi := extremes(v[i : i+16]); leap.settles(lo, hi) {
				from = i + 16
				k := leap.tail()
				leap.begin(v[from-k:from], &clock{interval: 1e-3, row: int64(from - k)}, int64(from), hi)
			}
		}
		if from == 0 {
			continue
		}
		feed(leap, from, len(v))
		feed(two, 0, from)
		before := slices.Clone(edges)
		stray := two.(adopter).apart()
		off := []float64{3, 3, 3, 3}
		stray.begin(off[:stray.tail()], &clock{interval: 1e-3, row: int64(from - 4)}, int64(from), 3)
		feed(stray, from, len(v))
		if two.(adopter).adopt(stray) || !slices.Equal(edges, before) {
			t.Fatal("a leaper was adopted that began elsewhere")
		}
		tried++
		if two.(adopter).adopt(leap) {
			adopted++
		} else {
			feed(two, from, len(v))
		}
		if !slices.Equal(edges, all) || slowA != slowB || repeatsA != repeatsB {
			t.Fatalf("method %d from sample %d of %d: %d edges, not %d", kind, from, len(v), len(edges), len(all))
		}
		if now := Second(len(v)) / 1000; one.hold(now) != two.hold(now) {
			t.Fatalf("method %d: holds %v, not %v", kind, two.hold(now), one.hold(now))
		}
	}
	if adopted < 2000 {
		t.Errorf("%d adopted of %d: too few to tell", adopted, tried)
	}
}

// TestRoomIsCalm: any block inside the room that a calm detector gives is calm too, however many follow one another.
func TestRoomIsCalm(t *testing.T) {
	rng := rand.New(rand.NewPCG(9, 2))
	var slow, repeats int64
	drop := func(Edge) {}
	for range 5000 {
		d := []detector{newByLevels(-0.6, 0.6, 0.3, drop, &slow), newByChanges(0.9, 4, drop, &repeats), newByZeroCrossing(0, 0.5, drop)}[rng.IntN(3)]
		v := make([]float64, 16)
		at := 2 * rng.NormFloat64()
		row := int64(0)
		feed := func() (lo, hi float64) {
			lo, hi = extremes(v)
			d.feed(v, &clock{interval: 1, row: row}, lo, hi)
			row += 16
			return lo, hi
		}
		for i := range v {
			v[i] = at + 0.02*rng.NormFloat64()
		}
		lo, hi := feed()
		if !d.calm(lo, hi) {
			continue
		}
		lo, hi = d.room(lo, hi)
		lo, hi = max(lo, -9), min(hi, 9)
		for range 20 {
			for i := range v {
				v[i] = lo + (hi-lo)*(0.001+0.998*rng.Float64())
			}
			a, b := extremes(v)
			if !d.calm(a, b) {
				t.Fatalf("%T: %v to %v is not calm, inside %v to %v", d, a, b, lo, hi)
			}
			feed()
		}
	}
}
