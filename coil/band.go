package coil

// Band is an estimate: the truth is held to lie from Low to High. There is no single best value in it.
type Band[T ~float64] struct {
	Low, High T
}

// Exactly is the band of a value taken as known.
func Exactly[T ~float64](v T) Band[T] { return Band[T]{v, v} }

// Around is v·(1 ± share).
func Around[T ~float64](v T, share float64) Band[T] {
	return Band[T]{v * T(1-share), v * T(1+share)}
}

// Plus adds two bands end to end, as for gaps in series.
func (b Band[T]) Plus(c Band[T]) Band[T] { return Band[T]{b.Low + c.Low, b.High + c.High} }

// Holds says whether v lies in the band.
func (b Band[T]) Holds(v T) bool { return b.Low <= v && v <= b.High }

// Over is how many times b covers c, at worst and at best: b.Low/c.High to b.High/c.Low.
func (b Band[T]) Over(c Band[T]) Band[float64] {
	return Band[float64]{float64(b.Low) / float64(c.High), float64(b.High) / float64(c.Low)}
}

// cover is the smallest band that holds both.
func (b Band[T]) cover(c Band[T]) Band[T] { return Band[T]{min(b.Low, c.Low), max(b.High, c.High)} }
