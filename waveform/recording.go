package waveform

import (
	"context"

	"phasewright/waveform/block"
)

// Recording is a whole small file in memory.
type Recording struct {
	Result
	Edges  []Edge
	Times  [][]Second  // per channel: time of each sample, or of each change
	Values [][]float64 // per channel, beside Times: NaN missing, ±Inf out of range; Digital 0, 1 or NaN
	Words  [][]string  // Bus channels: the bits as text, beside Times; nil for others
}

// maxInMemory bounds the values and the edges of a Recording.
const maxInMemory = 16 << 20

// collector is the sink of ReadAll, and takes the samples and changes beside it. A nil collector takes nothing.
type collector struct {
	rec  Recording
	n    int
	full bool
}

func (c *collector) Begin(i Info) error {
	n := len(i.Channels)
	c.rec.Times, c.rec.Values, c.rec.Words = make([][]Second, n), make([][]float64, n), make([][]string, n)
	return nil
}

func (c *collector) Edges(e []Edge) error {
	if len(c.rec.Edges)+len(e) > maxInMemory {
		return block.AtByte(ErrImpossible, -1, "use Scan", "the recording holds more than %d edges", maxInMemory)
	}
	c.rec.Edges = append(c.rec.Edges, e...)
	return nil
}

// room counts a value of a channel at a time; false when there is no room for it.
func (c *collector) room(ch int, at Second) bool {
	if c.n++; c.n > maxInMemory {
		c.full = true
		return false
	}
	c.rec.Times[ch] = append(c.rec.Times[ch], at)
	return true
}

func (c *collector) samples(ch int, v []float64, clock *block.Clock) {
	if c == nil {
		return
	}
	for i, x := range v {
		c.value(ch, clock.At(i), x)
	}
}

func (c *collector) value(ch int, at Second, x float64) {
	if c != nil && c.room(ch, at) {
		c.rec.Values[ch] = append(c.rec.Values[ch], x)
	}
}

func (c *collector) word(ch int, at Second, word []byte) {
	if c != nil && c.room(ch, at) {
		c.rec.Words[ch] = append(c.rec.Words[ch], string(word))
	}
}

// ReadAll reads a small recording (at most 16 million values) whole. Partial results come with the error, as with Scan.
func ReadAll(ctx context.Context, in Input, opt Options) (*Recording, error) {
	c := &collector{}
	r, err := scan(ctx, in, opt, c, c)
	if r == nil {
		return nil, err
	}
	c.rec.Result = *r
	if err == nil && c.full {
		err = &Problem{Kind: ErrImpossible, Name: in.name, Byte: -1,
			What:   "the recording is too large to be held whole",
			Remedy: "use Scan"}
	}
	return &c.rec, err
}
