package waveform

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"runtime"
	"unicode/utf8"
)

// scanner is one run of Scan.
type scanner struct {
	src   *source
	opt   Options
	sink  Sink
	keep  *keeper
	in    Input
	bytes int64
}

func scan(ctx context.Context, in Input, opt Options, sink Sink) (*Result, error) {
	return scanKeeping(ctx, in, opt, sink, nil)
}

func scanKeeping(ctx context.Context, in Input, opt Options, sink Sink, keep *keeper) (*Result, error) {
	if opt.Workers <= 0 {
		opt.Workers = runtime.GOMAXPROCS(0)
	}
	ownChunk := opt.Chunk > 0
	if !ownChunk {
		opt.Chunk = defaultChunk
	}
	if in.r != nil {
		in.r = &patient{ctx: ctx, r: in.r}
	}
	src, err := openSource(ctx, in, opt)
	if err := ctx.Err(); err != nil { // a decompressor may have made another fault of it
		return nil, err
	}
	if err != nil {
		return nil, named(err, in.name)
	}
	s := &scanner{src: src, opt: opt, sink: sink, keep: keep, in: in}
	if len(src.head) == 0 {
		src.close()
		return nil, &Problem{Kind: ErrTruncated, Name: in.name, Byte: 0, What: "the file is empty", Remedy: "record again, or copy it again"}
	}
	var r *Result
	switch tellFormat(src.head) {
	case FormatWAV:
		if !ownChunk && opt.Workers <= 8 { // all stay within 10 MiB
			s.opt.Chunk = wavChunk
		}
		r, err = s.scanWAV(ctx)
	case FormatVCD:
		r, err = s.scanVCD(ctx)
	default:
		if !ownChunk && opt.Workers <= 4 { // likewise
			s.opt.Chunk = csvChunk
		}
		r, err = s.scanCSV(ctx)
	}
	if err == nil || !errors.Is(err, context.Canceled) && !errors.Is(err, context.DeadlineExceeded) {
		src.close()
	}
	return r, named(err, in.name)
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
	if len(t) > 1 && t[0] == '$' {
		for _, w := range []string{"$date", "$version", "$comment", "$timescale", "$scope", "$var", "$enddefinitions", "$upscope", "$dumpvars"} {
			if bytes.HasPrefix(t, []byte(w)) {
				return FormatVCD
			}
		}
	}
	return FormatCSV
}

// refuseText says what is wrong with text that cannot be a table.
func refuseText(head []byte) *Problem {
	if bytes.HasPrefix(head, []byte{0xff, 0xfe}) || bytes.HasPrefix(head, []byte{0xfe, 0xff}) || looksUTF16(head) {
		return problemAtByte(ErrMalformed, 0, "save it as UTF-8 or plain text", "the text is UTF-16")
	}
	first := head[:min(len(head), 4096)]
	if bytes.HasPrefix(first, []byte("$")) {
		return problemAtByte(ErrMalformed, 0, "a VCD begins with $date, $version, $comment, $timescale, $scope or $var", "the file begins with %q, which no format here does", clip(firstWord(first)))
	}
	for i, c := range first {
		if c == 0 && len(bytes.Trim(head[i:], "\x00")) == 0 && i > 0 {
			break // padding at the end
		}
		if c < ' ' && c != '\t' && c != '\r' && c != '\n' && c != '\f' {
			return problemAtByte(ErrMalformed, int64(i), "it must be a table of numbers (CSV), a VCD or a WAVE file, plain or as gzip or zstd", "byte 0x%02x: this is no recording that can be read here", c)
		}
	}
	bad := 0
	for i := 0; i < len(first); {
		r, n := utf8.DecodeRune(first[i:])
		if r == utf8.RuneError && n == 1 {
			bad++
		}
		i += n
	}
	if bad*4 > len(first) {
		return problemAtByte(ErrMalformed, 0, "it must be a table of numbers (CSV), a VCD or a WAVE file, plain or as gzip or zstd", "this is no text and no recording that can be read here")
	}
	return nil
}

func firstWord(b []byte) []byte {
	if i := bytes.IndexAny(b, " \t\r\n"); i > 0 {
		return b[:i]
	}
	return b
}

// looksUTF16: every other byte is zero.
func looksUTF16(b []byte) bool {
	b = b[:min(len(b), 512)]
	if len(b) < 8 {
		return false
	}
	var zero [2]int
	for i, c := range b {
		if c == 0 {
			zero[i&1]++
		}
	}
	half := len(b) / 2
	return (zero[0] > half*3/4 && zero[1] == 0) || (zero[1] > half*3/4 && zero[0] == 0)
}

func newChannel(name, unit string, kind Kind) Channel {
	nan := math.NaN()
	return Channel{Name: name, Unit: unit, Kind: kind, Low: nan, High: nan, Noise: nan, Least: nan, Largest: nan}
}

// run sends what follows the first off bytes through the pipeline.
func (s *scanner) run(ctx context.Context, eng *engine, dec decoder, off int64) error {
	if err := eng.begin(); err != nil {
		return err
	}
	return s.pipe(ctx, dec, s.src.body(off), off)
}

func (s *scanner) pipe(ctx context.Context, dec decoder, r io.Reader, off int64) error {
	return s.flow(ctx, &pipeline{src: s.src, dec: dec, workers: s.opt.Workers, size: s.opt.Chunk, read: off}, r, off)
}

// pipeAt is pipe for bytes from off to end of an input that can be read at any place and be cut at multiples of unit from there.
func (s *scanner) pipeAt(ctx context.Context, dec decoder, off, end int64, unit int) error {
	s.src.done.Store(off)
	p := &pipeline{src: s.src, dec: dec, workers: s.opt.Workers, size: s.opt.Chunk, read: off, direct: &direct{s.src.at, off, max(off, end), unit}}
	return s.flow(ctx, p, nil, off)
}

func (s *scanner) flow(ctx context.Context, p *pipeline, r io.Reader, off int64) error {
	p.tick = func() {
		if s.opt.Progress != nil {
			s.opt.Progress(s.src.done.Load(), s.src.size)
		}
	}
	err := p.run(ctx, r, off)
	s.bytes = p.read
	return err
}

// result closes the engine and sorts a fault into error and partial result.
func (s *scanner) result(eng *engine, err error) (*Result, error) {
	var p *Problem
	isProblem := errors.As(err, &p)
	if err == nil || isProblem || errors.Is(err, context.Canceled) || errors.Is(err, context.DeadlineExceeded) {
		if e := eng.finish(); e != nil && err == nil {
			err = e
			isProblem = errors.As(err, &p)
		}
	}
	eng.merge.counted()
	r := &Result{Info: eng.info, End: eng.end, Rows: eng.rows, Bytes: s.bytes, Warnings: eng.warnings}
	r.Overview = eng.over.finish(r, eng.tick)
	switch {
	case isProblem:
		named(p, s.src.name)
		r.Partial = p
		if errors.Is(p.Kind, ErrTruncated) {
			err = nil
		}
	case err != nil:
		r.Partial = &Problem{Kind: ErrTruncated, Name: s.src.name, Byte: s.bytes, What: fmt.Sprintf("reading was stopped (%v)", err), Remedy: "what came before is given"}
	}
	if r.Rows == 0 && err == nil {
		err = &Problem{Kind: ErrTruncated, Name: s.src.name, Byte: s.bytes, What: "the recording holds no samples", Remedy: "record again"}
		if r.Partial == nil {
			r.Partial = err.(*Problem)
		}
	}
	return r, err
}
