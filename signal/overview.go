package signal

import "context"

// Extent is the least and largest value in one column of a drawing; NaN, NaN when nothing was recorded there.
type Extent struct{ Min, Max float64 }

// Query gives, for n equal columns of the time from t0 to t1, the least and largest value of a channel: never less than the
// signal's true extent in a column, and wider only by samples of the stretches that overlap the column's ends.
func (o *Overview) Query(ctx context.Context, channel int, t0, t1 Second, n int) ([]Extent, error) {
	return o.query(ctx, channel, t0, t1, n)
}
