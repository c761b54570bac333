package block

import "math"

// Rows is a stretch of a sampled recording. It is filled anew, in the same room, for one stretch after the other.
type Rows struct {
	N       int
	Values  [][]float64 // by channel: NaN where nothing was recorded, ±Inf beyond the recorder's range
	Times   [][]float64 // by channel, in seconds; nil where the steps are even. Channels may share one clock
	Gaps    []bool      // by channel: NaN or ±Inf stands among its values or times
	Clocks  []Span      // by time column
	Lines   int64       // lines of text that the rows span, blank ones too
	Nuls    int64       // zero bytes that pad the end of the file
	Problem *Problem    // what ended the rows; its Line counts from 1 at the stretch's first line
}

// Span is what one time column of a stretch begins and ends with.
type Span struct {
	First, Last float64 // NaN when the column holds no time here
	Row         int     // of First
	Line        int64   // of First, from 1 at the stretch's first line
}

// Columns makes so many columns of n values in the room of those given; what stands in them is old.
func Columns(columns [][]float64, count, n int) [][]float64 {
	for len(columns) < count {
		columns = append(columns, nil)
	}
	columns = columns[:count]
	for i := range columns {
		if cap(columns[i]) < n {
			columns[i] = make([]float64, n)
		}
		columns[i] = columns[i][:n]
	}
	return columns
}

// Clock gives the times of a block of samples.
type Clock struct {
	Times    []float64 // of each sample; nil: even steps
	Start    float64   // of the recording's first sample, with even steps
	Interval float64
	Row      int64   // of the block's first sample, from the first of the recording
	Held     bool    // an edge stands at the sample, not between samples
	Before   float64 // time of the sample before the block (with Times)
}

// At is the instant of sample i; -1 is the one before the block.
func (c *Clock) At(i int) Second {
	if c.Times != nil {
		if i < 0 {
			return Second(c.Before)
		}
		return Second(c.Times[i])
	}
	return Second(c.Start + c.Interval*float64(c.Row+int64(i)))
}

// Between is the instant a fraction f of the way from sample i-1 to sample i.
func (c *Clock) Between(i int, f float64) Second {
	if c.Held {
		return c.At(i)
	}
	if c.Times != nil {
		a, b := c.Before, c.Times[i]
		if i > 0 {
			a = c.Times[i-1]
		}
		return Second(a + f*(b-a))
	}
	return Second(c.Start + c.Interval*(float64(c.Row+int64(i)-1)+f))
}

// Finite is false for NaN and ±Inf.
func Finite(f float64) bool { return f-f == 0 }

// Extremes gives the least and largest of values that are all finite. It sees every sample; comparing costs a fifth of
// what min and max do, which also put NaN and -0 in their places.
func Extremes(v []float64) (least, largest float64) {
	least, largest = v[0], v[0]
	for _, x := range v {
		if x < least {
			least = x
		} else if x > largest {
			largest = x
		}
	}
	return least, largest
}

// FiniteExtremes passes over NaN and ±Inf; NaN, NaN where nothing is finite.
func FiniteExtremes(v []float64) (least, largest float64) {
	least, largest = math.NaN(), math.NaN()
	for _, x := range v {
		if Finite(x) {
			if !(least <= x) {
				least = x
			}
			if !(largest >= x) {
				largest = x
			}
		}
	}
	return least, largest
}
