package waveform

import "context"

// Recording is a whole small file in memory.
type Recording struct {
	Result
	Edges  []Edge
	Times  [][]Second  // per channel: time of each sample, or of each change
	Values [][]float64 // per channel, beside Times: NaN missing, ±Inf out of range; Digital 0, 1 or NaN
	Words  [][]string  // Bus channels: the bits as text, beside Times; nil for others
}

// maxKept bounds what ReadAll keeps.
const maxKept = 16 << 20

// keeper collects samples for ReadAll.
type keeper struct {
	times  [][]Second
	values [][]float64
	words  [][]string
	n      int
	full   bool
}

func (k *keeper) room(ch int) bool {
	for len(k.times) <= ch {
		k.times, k.values, k.words = append(k.times, nil), append(k.values, nil), append(k.words, nil)
	}
	if k.n >= maxKept {
		k.full = true
		return false
	}
	k.n++
	return true
}

func (k *keeper) samples(ch int, v []float64, c *clock) {
	for i, x := range v {
		if !k.room(ch) {
			return
		}
		k.times[ch], k.values[ch] = append(k.times[ch], c.at(i)), append(k.values[ch], x)
	}
}

func (k *keeper) change(ch int, at Second, v float64, word string) {
	if !k.room(ch) {
		return
	}
	k.times[ch] = append(k.times[ch], at)
	if word != "" {
		k.words[ch] = append(k.words[ch], word)
	} else {
		k.values[ch] = append(k.values[ch], v)
	}
}

// collector is the sink of ReadAll.
type collector struct{ edges []Edge }

func (*collector) Begin(Info) error { return nil }

func (c *collector) Edges(e []Edge) error {
	if len(c.edges)+len(e) > maxKept {
		return problemAtByte(ErrImpossible, -1, "use Scan", "the recording holds more than %d edges", maxKept)
	}
	c.edges = append(c.edges, e...)
	return nil
}

// ReadAll reads a small recording (at most 16 million values) whole. Partial results come with the error, as with Scan.
func ReadAll(ctx context.Context, in Input, opt Options) (*Recording, error) {
	k, c := &keeper{}, &collector{}
	r, err := scanKeeping(ctx, in, opt, c, k)
	if r == nil {
		return nil, err
	}
	for len(k.times) < len(r.Channels) {
		k.times, k.values, k.words = append(k.times, nil), append(k.values, nil), append(k.words, nil)
	}
	rec := &Recording{Result: *r, Edges: c.edges, Times: k.times, Values: k.values, Words: k.words}
	if err == nil && k.full {
		err = &Problem{Kind: ErrImpossible, Name: in.name, Byte: -1, What: "the recording is too large to be held whole", Remedy: "use Scan"}
	}
	return rec, err
}
