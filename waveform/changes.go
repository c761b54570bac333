package waveform

import (
	"bytes"
	"context"
	"errors"
	"io"

	"phasewright/waveform/block"
	"phasewright/waveform/edges"
	"phasewright/waveform/vcd"
)

// changeDecoder takes value changes through the pipeline to the follower and the overview. A chunk is parsed as if it
// began between two changes; where that proves wrong it is parsed again.
type changeDecoder struct {
	s      *scanner
	lay    *vcd.Layout
	follow *edges.Follower
	states *edges.States
	over   *overviewBuilder
	state  vcd.State
	tick   uint64
	begun  bool // a time stamp was seen
	start  Second
	stamps int64
	words  [][]byte // by channel: the last word of a bus

	// A value of a real and its time: kept here, since they would escape to the heap.
	one, oneT [1]float64
	clock     block.Clock
}

func (d *changeDecoder) split(b []byte, last bool) int { return vcd.Split(b, last) }

func (d *changeDecoder) parse(c *chunk) { d.lay.Parse(c.data, vcd.State{}, &c.changes) }

func (d *changeDecoder) commit(c *chunk) error {
	r := &c.changes
	if d.state.Between() {
		d.over.mark(int64(d.tick), c.off, d.lay.Seconds(d.tick))
	} else {
		d.lay.Parse(c.data, d.state, r)
	}
	for i := range r.Inherited {
		r.All[i].Tick = d.tick
	}
	early, all := r.All[:r.Inherited], r.All
	if r.Stamps > 0 && d.begun && r.First < d.tick {
		r.Problem, all = vcd.TimeFalls(r.FirstAt, d.tick, r.First), early
	} else if r.Stamps > 0 {
		if !d.begun && r.Inherited == 0 {
			d.start = d.lay.Seconds(r.First)
		}
		d.begun, d.tick = true, r.Last
		d.stamps += r.Stamps
	}
	if err := d.apply(r, all); err != nil {
		return err
	}
	d.state = r.End
	d.reached(d.lay.Seconds(d.tick))
	if r.Problem != nil {
		return d.fault(c, r.Problem)
	}
	if c.last && c.err == nil && !d.state.Between() {
		what := "the file ends in the middle of a value change"
		if d.state.Comment {
			what = "the file ends within a comment or another block that no $end closes"
		}
		return block.AtByte(ErrTruncated, c.off+int64(len(c.data)), "what came before is used", "%s", what)
	}
	return d.follow.Flush()
}

// reached says that all changes up to an instant were given on.
func (d *changeDecoder) reached(now Second) {
	d.states.Reached(now)
	for i := range d.lay.Variables {
		if d.lay.Variables[i].Sort == vcd.Real {
			d.follow.Idle(i, now)
		}
	}
}

// fault places a problem of a chunk in the recording. Where the offending word is the file's last and nothing ends it,
// the file was cut off there.
func (d *changeDecoder) fault(c *chunk, p *Problem) error {
	out := *p
	at := min(max(p.Byte, 0), int64(len(c.data)))
	if c.last && c.err == nil && errors.Is(p, ErrMalformed) && bytes.IndexFunc(c.data[at:], isBlank) < 0 {
		out = *block.AtByte(ErrTruncated, at, "what came before is used",
			"the file ends in the middle of a value change")
	}
	out.Byte = at + c.off
	return &out
}

func isBlank(r rune) bool { return r <= ' ' }

// apply gives changes on.
func (d *changeDecoder) apply(r *vcd.Changes, all []vcd.Change) error {
	last, at := uint64(0), d.lay.Seconds(0)
	variables := d.lay.Variables
	shown := d.over != nil || d.s.collect != nil
	for i := range all {
		c := &all[i]
		if c.Tick != last {
			last, at = c.Tick, d.lay.Seconds(c.Tick)
		}
		ch := int(c.Variable)
		switch sort := variables[ch].Sort; {
		case sort == vcd.Bit:
			if d.states.Change(ch, at, edges.State(c.Value)) && shown {
				d.over.state(ch, c.Tick, levelOf[c.Value])
				d.s.collect.value(ch, at, levelOf[c.Value])
			}
		case sort == vcd.Real:
			if err := d.real(ch, c.Tick, at, r.Reals[c.Value]); err != nil {
				return err
			}
		case c.Text:
			d.word(ch, at, r.Words[c.Value], sort)
		default:
			d.word(ch, at, digitOf[c.Value], sort)
		}
	}
	return nil
}

// levelOf and digitOf are a bit's value as a number and as it is written.
var (
	levelOf = [...]float64{vcd.Zero: 0, vcd.One: 1, vcd.Unknown: nan}
	digitOf = [...][]byte{vcd.Zero: []byte("0"), vcd.One: []byte("1"), vcd.Unknown: []byte("x")}
)

// real takes a value of a real.
func (d *changeDecoder) real(ch int, tick uint64, at Second, x float64) error {
	d.s.collect.value(ch, at, x)
	d.over.state(ch, tick, x)
	d.follow.Channels[ch].Changes++
	d.one[0], d.oneT[0] = x, float64(at)
	v, clock := d.one[:], &d.clock
	*clock = block.Clock{Times: d.oneT[:], Held: true}
	if !block.Finite(x) {
		return d.follow.Gaps(ch, v, clock)
	}
	d.follow.Channels[ch].Saw(x, x)
	return d.follow.Samples(ch, v, clock, x, x)
}

// word notes a change of a bus, an integer or an event; a word written again is none.
func (d *changeDecoder) word(ch int, at Second, word []byte, sort vcd.Sort) {
	if bytes.Equal(d.words[ch], word) && sort != vcd.Event {
		return
	}
	if d.words[ch] != nil {
		d.follow.Channels[ch].Changes++
	}
	d.words[ch] = append(d.words[ch][:0], word...)
	d.s.collect.word(ch, at, word)
}

// kinds are the kinds of channel that variables make.
var kinds = [...]Kind{vcd.Bit: Digital, vcd.Real: Analog, vcd.Word: Bus, vcd.Event: Bus}

// scanVCD reads value changes.
func (s *scanner) scanVCD(ctx context.Context) (*Result, error) {
	lay, p := vcd.Head(io.NewSectionReader(s.src, 0, maxFront))
	if p != nil {
		return nil, p
	}
	info := Info{Name: s.src.name, Format: FormatVCD, Size: s.src.size, Tick: lay.Seconds(1)}
	taken := map[string]int{}
	var reals []int
	for i, v := range lay.Variables {
		c := block.NewChannel(block.Distinct(taken, v.Names[0]), "", kinds[v.Sort])
		c.Aliases, c.Held = v.Names[1:], true
		switch v.Sort {
		case vcd.Bit:
			c.Method, c.Low, c.High, c.Noise = ByState, 0, 1, 0
		case vcd.Real:
			reals = append(reals, i)
		}
		info.Channels = append(info.Channels, c)
	}
	d := &changeDecoder{s: s, lay: lay, follow: edges.NewFollower(info.Channels, s.opt.Glitch, s.sink),
		words: make([][]byte, len(info.Channels))}
	d.follow.Warnings = lay.Warnings
	d.states = d.follow.States()
	if len(reals) > 0 {
		segs := s.surveyReals(lay, reals)
		hints := make([]edges.Hint, len(reals))
		for i, ch := range reals {
			hints[i] = edges.Hint{Method: s.opt.Methods[info.Channels[ch].Name], Held: true}
		}
		for i, found := range edges.JudgeAll(segs, hints, s.opt.Workers) {
			d.follow.Sampled(reals[i], hints[i], found)
		}
	}
	d.over = s.overview(info.Channels, func(o *Overview) { o.vcd = lay })
	end := int64(-1)
	if s.src.at != nil {
		end = s.src.size
	}
	err := s.run(ctx, info, d, s.src.body(lay.Body), lay.Body, end)
	info.Start = d.start
	return s.result(info, d.follow, d.over, progress{rows: d.stamps, end: d.lay.Seconds(d.tick), tick: d.tick}, err)
}

// surveyReals samples reals: stretches spread over the file, or its beginning.
func (s *scanner) surveyReals(lay *vcd.Layout, reals []int) [][][]float64 {
	const total, count = 2 << 20, 16
	segs := make([][][]float64, len(reals))
	var r vcd.Changes
	take := func(text []byte) {
		lay.Parse(text, vcd.State{}, &r)
		part := make([][]float64, len(lay.Variables))
		for _, c := range r.All {
			if lay.Variables[c.Variable].Sort == vcd.Real {
				part[c.Variable] = append(part[c.Variable], r.Reals[c.Value])
			}
		}
		for i, ch := range reals {
			if part[ch] != nil {
				segs[i] = append(segs[i], part[ch])
			}
		}
	}
	resync := func(b []byte) int { return bytes.IndexByte(b, '\n') + 1 }
	st := stretches{s.src, lay.Body, max(s.src.size, lay.Body), 1, vcd.Split, resync}
	if s.src.at == nil {
		st.end = lay.Body + total
	}
	if st.whole(total) {
		st.beginning(total, func(text []byte, _ bool) bool { take(text); return true })
	} else {
		st.spread(total, count, take)
	}
	return segs
}
