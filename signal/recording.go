package signal

import "context"

// Recording is a whole small file in memory.
type Recording struct {
	Result
	Edges  []Edge
	Times  [][]Second  // per channel: time of each sample, or of each change
	Values [][]float64 // per channel, beside Times: NaN missing, ±Inf out of range; Digital 0, 1 or NaN
	Words  [][]string  // Bus channels: the bits as text, beside Times; nil for others
}

// ReadAll reads a small recording (at most 16 million values) whole. Partial results come with the error, as with Scan.
func ReadAll(ctx context.Context, in Input, opt Options) (*Recording, error) {
	return readAll(ctx, in, opt)
}
