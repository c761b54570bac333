package waveform

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"runtime"

	"phasewright/waveform/edges"
)

// maxFront is how far before its samples or changes a recording that can only be read on may begin: it must be kept.
const maxFront = 8 << 20

var nan = math.NaN()

// scanner is one run of Scan.
type scanner struct {
	src     *source
	opt     Options
	sink    Sink
	collect *collector // for ReadAll; else nil
	bytes   int64      // read so far
}

func scan(ctx context.Context, in Input, opt Options, sink Sink, collect *collector) (*Result, error) {
	if opt.Workers <= 0 {
		opt.Workers = runtime.GOMAXPROCS(0)
	}
	if opt.Chunk <= 0 {
		opt.Chunk = defaultChunk
	}
	src, err := openSource(ctx, in, opt)
	if err := ctx.Err(); err != nil { // a decompressor may have made another fault of it
		return nil, err
	}
	if err != nil {
		return nil, named(err, in.name)
	}
	s := &scanner{src: src, opt: opt, sink: sink, collect: collect}
	if len(src.head) == 0 {
		src.close()
		return nil, &Problem{Kind: ErrTruncated, Name: in.name, Byte: 0, What: "the file is empty",
			Remedy: "record again, or copy it again"}
	}
	var r *Result
	switch tellFormat(src.head) {
	case FormatWAV:
		r, err = s.scanWAV(ctx)
	case FormatVCD:
		r, err = s.scanVCD(ctx)
	default:
		r, err = s.scanCSV(ctx)
	}
	if err == nil || !stopped(err) {
		src.close()
	}
	return r, named(err, in.name)
}

func stopped(err error) bool {
	return errors.Is(err, context.Canceled) || errors.Is(err, context.DeadlineExceeded)
}

// named gives a Problem the input's name.
func named(err error, name string) error {
	var p *Problem
	if errors.As(err, &p) && p.Name == "" {
		p.Name = name
	}
	return err
}

// tellFormat looks at the first bytes.
func tellFormat(head []byte) Format {
	if len(head) >= 4 {
		switch string(head[:4]) {
		case "RIFF", "RF64", "BW64", "RIFX":
			return FormatWAV
		}
	}
	t := bytes.TrimLeft(bytes.TrimPrefix(head, []byte{0xef, 0xbb, 0xbf}), " \t\r\n")
	for _, w := range []string{"$date", "$version", "$comment", "$timescale", "$scope", "$var", "$enddefinitions",
		"$upscope", "$dumpvars"} {
		if bytes.HasPrefix(t, []byte(w)) {
			return FormatVCD
		}
	}
	return FormatCSV
}

// run begins the sink and sends what follows the first off bytes through the pipeline. end is where it must end, -1
// when that is not known.
func (s *scanner) run(ctx context.Context, info Info, dec decoder, r io.Reader, off, end int64) error {
	if err := s.sink.Begin(info); err != nil {
		return err
	}
	p := &pipeline{src: s.src, dec: dec, workers: s.opt.Workers, size: s.opt.Chunk, end: end, read: off, tick: func() {
		if s.opt.Progress != nil {
			s.opt.Progress(s.src.done.Load(), s.src.size)
		}
	}}
	err := p.run(ctx, r, off)
	s.bytes = p.read
	return err
}

// progress is how far the reading came.
type progress struct {
	rows int64
	end  Second
	tick uint64 // of a VCD's last time stamp
}

// result hands on the last edges and sorts a fault into error and partial result.
func (s *scanner) result(info Info, follow *edges.Follower, over *overviewBuilder, to progress,
	err error) (*Result, error) {
	var p *Problem
	isProblem := errors.As(err, &p)
	if err == nil || isProblem || stopped(err) {
		if e := follow.Finish(); e != nil && err == nil {
			err = e
			isProblem = errors.As(err, &p)
		}
	}
	follow.Count()
	r := &Result{Info: info, End: to.end, Rows: to.rows, Bytes: s.bytes, Warnings: follow.Warnings}
	r.Overview = over.finish(r, to.tick)
	switch {
	case isProblem:
		named(p, s.src.name)
		r.Partial = p
		if errors.Is(p.Kind, ErrTruncated) {
			err = nil
		}
	case err != nil:
		r.Partial = &Problem{Kind: ErrTruncated, Name: s.src.name, Byte: s.bytes,
			What: fmt.Sprintf("reading was stopped (%v)", err), Remedy: "what came before is given"}
	}
	if r.Rows == 0 && err == nil {
		err = &Problem{Kind: ErrTruncated, Name: s.src.name, Byte: s.bytes, What: "the recording holds no samples",
			Remedy: "record again"}
		if r.Partial == nil {
			r.Partial = err.(*Problem)
		}
	}
	return r, err
}
