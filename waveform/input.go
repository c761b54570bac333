package waveform

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"sync/atomic"

	"github.com/klauspost/compress/gzip"
	"github.com/klauspost/compress/zstd"
	"golang.org/x/text/encoding/unicode"
	"golang.org/x/text/transform"

	"phasewright/waveform/block"
)

const (
	headSize      = 256 << 10 // bytes looked at to tell what a file is and where its table begins
	maxZstdWindow = 16 << 20  // keeps memory bounded; zstd's levels up to 19 need 8 MiB
	defaultGrowth = 64 << 30
)

// source is a recording's bytes after decompression, with what is needed to say how far the reading is.
type source struct {
	ctx        context.Context
	name       string
	r          io.Reader
	at         io.ReaderAt // plain bytes that can be read at any place; nil when compressed or a pipe
	size       int64       // of the input as it stands on disk; -1 unknown
	done       atomic.Int64
	compressed bool
	head       []byte // the first bytes, read but not consumed
	headEOF    bool
	headErr    error
	close      func()
}

// counting counts the bytes that were taken from the input. It ends with ctx: packed parts that hold nothing may follow
// one another for long before a byte comes out behind them.
type counting struct {
	ctx context.Context
	r   io.Reader
	n   *atomic.Int64
}

func (c counting) Read(p []byte) (int, error) {
	if err := c.ctx.Err(); err != nil {
		return 0, err
	}
	n, err := c.r.Read(p)
	c.n.Add(int64(n))
	return n, err
}

// bounded stops a compressed input that grows beyond all reason.
type bounded struct {
	r    io.Reader
	left int64
	max  int64
}

var errGrowth = errors.New("grows too much")

func (b *bounded) Read(p []byte) (int, error) {
	if b.left <= 0 {
		return 0, errGrowth
	}
	if int64(len(p)) > b.left {
		p = p[:b.left]
	}
	n, err := b.r.Read(p)
	b.left -= int64(n)
	return n, err
}

// openSource tells compression by its magic number, UTF-16 by its byte-order mark, and reads the head.
func openSource(ctx context.Context, in Input, opt Options) (*source, error) {
	s := &source{ctx: ctx, name: in.name, size: in.size, close: func() {}}
	var raw io.Reader
	switch {
	case in.at != nil:
		raw = io.NewSectionReader(in.at, 0, in.size)
	case in.r != nil:
		raw = &interruptible{ctx: ctx, r: in.r}
	default:
		return nil, &Problem{Kind: ErrImpossible, Name: in.name, Byte: -1, What: "no input was given",
			Remedy: "name a file"}
	}
	limit := opt.MaxDecompressed
	if limit <= 0 {
		limit = defaultGrowth
	}
	whole := bufio.NewReaderSize(counting{ctx, raw, &s.done}, 128<<10)
	front, err := whole.Peek(4)
	if err != nil && err != io.EOF {
		return nil, fmt.Errorf("%s – reading failed – %w", in.name, err)
	}
	s.r = whole
	switch {
	case len(front) >= 2 && front[0] == 0x1f && front[1] == 0x8b:
		m := &members{in: whole}
		if err := m.next(); err != nil {
			return nil, s.explain(err, 0)
		}
		s.r, s.compressed = &bounded{m, limit, limit}, true
	case isZstd(front):
		z, err := zstd.NewReader(whole, zstd.WithDecoderConcurrency(1), zstd.WithDecoderLowmem(true),
			zstd.WithDecoderMaxWindow(maxZstdWindow))
		if err != nil {
			return nil, s.explain(err, 0)
		}
		s.r, s.compressed, s.close = &bounded{z, limit, limit}, true, z.Close
	default:
		s.at = in.at
	}
	if err := s.fillHead(headSize); err != nil {
		s.close()
		return nil, err
	}
	s.decodeUTF16()
	return s, nil
}

// decodeUTF16 turns text that begins with a byte-order mark of UTF-16 into UTF-8.
func (s *source) decodeUTF16() {
	if mark := string(s.head[:min(2, len(s.head))]); mark != "\xff\xfe" && mark != "\xfe\xff" {
		return
	}
	rest := s.body(0)
	s.r = transform.NewReader(rest, unicode.UTF16(unicode.LittleEndian, unicode.UseBOM).NewDecoder())
	s.at, s.head, s.headEOF, s.headErr = nil, nil, false, nil
	s.fillHead(headSize)
}

// members are the parts of a gzip file, one after the other. Zero bytes between and behind them are padding, as the
// tool of that name has it.
type members struct {
	in *bufio.Reader
	z  *gzip.Reader
}

func (m *members) next() (err error) {
	if m.z == nil {
		m.z, err = gzip.NewReader(m.in)
	} else {
		err = m.z.Reset(m.in)
	}
	if err == nil {
		m.z.Multistream(false)
	}
	return err
}

func (m *members) Read(p []byte) (int, error) {
	for {
		n, err := m.z.Read(p)
		if err != io.EOF {
			return n, err
		}
		if n > 0 {
			return n, nil
		}
		for {
			b, err := m.in.Peek(1)
			if err != nil {
				return 0, err
			}
			if b[0] != 0 {
				break
			}
			m.in.Discard(1)
		}
		if err := m.next(); err != nil {
			return 0, err
		}
	}
}

func isZstd(b []byte) bool {
	if len(b) < 4 {
		return false
	}
	frame := b[0] == 0x28 && b[1] == 0xb5 && b[2] == 0x2f && b[3] == 0xfd
	return frame || b[0]&0xf0 == 0x50 && b[1] == 0x2a && b[2] == 0x4d && b[3] == 0x18 // one to be skipped
}

// fillHead reads on until the head holds n bytes or the input ends. A fault after the first bytes is kept for later:
// what came before it is of use.
func (s *source) fillHead(n int) error {
	if s.headEOF || s.headErr != nil || len(s.head) >= n {
		return nil
	}
	old := len(s.head)
	s.head = append(s.head, make([]byte, n-old)...)
	k, err := io.ReadFull(s.r, s.head[old:])
	s.head = s.head[:old+k]
	switch {
	case err == nil:
	case err == io.EOF || (err == io.ErrUnexpectedEOF && !s.compressed):
		s.headEOF = true
	case err == io.ErrUnexpectedEOF: // io.ReadFull's own, or the decompressor's: ask again to tell them apart
		var one [1]byte
		if m, again := s.r.Read(one[:]); m == 0 && (again == io.EOF) {
			s.headEOF = true
		} else {
			s.headErr = s.explain(err, int64(len(s.head)))
		}
	default:
		s.headErr = s.explain(err, int64(len(s.head)))
	}
	if s.headErr != nil && len(s.head) == 0 {
		return s.headErr
	}
	return nil
}

// ReadAt gives bytes at a place: of the file, or, where it can only be read on, of the head, which grows as needed.
func (s *source) ReadAt(p []byte, off int64) (int, error) {
	if s.at != nil {
		return s.at.ReadAt(p, off)
	}
	s.fillHead(int(off) + len(p))
	if off >= int64(len(s.head)) {
		return 0, io.EOF
	}
	n := copy(p, s.head[off:])
	if n < len(p) {
		return n, io.EOF
	}
	return n, nil
}

// body is what follows the first n bytes, which were read.
func (s *source) body(n int64) io.Reader {
	if s.at != nil {
		s.done.Store(n)
		return counting{s.ctx, io.NewSectionReader(s.at, n, s.size-n), &s.done}
	}
	rest := s.r
	if s.headErr != nil {
		rest = failing{s.headErr}
	} else if s.headEOF {
		rest = failing{io.EOF}
	}
	return io.MultiReader(bytes.NewReader(s.head[min(n, int64(len(s.head))):]), rest)
}

type failing struct{ err error }

func (f failing) Read([]byte) (int, error) { return 0, f.err }

// explain turns a reading error at a decompressed position into a Problem where the data are to blame.
func (s *source) explain(err error, at int64) error {
	var p *Problem
	switch {
	case errors.As(err, &p), errors.Is(err, context.Canceled), errors.Is(err, context.DeadlineExceeded):
		return err
	case errors.Is(err, errGrowth):
		p = block.AtByte(ErrImpossible, at, "decompress it to disk first, or raise the limit",
			"the compressed input grows beyond the limit set for it")
	case errors.Is(err, io.ErrUnexpectedEOF):
		p = block.AtByte(ErrTruncated, at, "copy the file again; what came before is used",
			"the compressed data end too soon")
	case errors.Is(err, zstd.ErrWindowSizeExceeded) || errors.Is(err, zstd.ErrDecoderSizeExceeded):
		p = block.AtByte(ErrImpossible, at, "decompress it to disk first",
			"the zstd data need a window of more than %d MiB", maxZstdWindow>>20)
	case s.compressed || isDecompression(err):
		p = block.AtByte(ErrMalformed, at, "copy the file again; what came before is used",
			"the compressed data are damaged (%v)", err)
	default:
		return fmt.Errorf("%s: byte %d – reading failed – %w", s.name, at, err)
	}
	p.Name = s.name
	return p
}

func isDecompression(err error) bool {
	return errors.Is(err, gzip.ErrHeader) || errors.Is(err, gzip.ErrChecksum) || errors.Is(err, zstd.ErrMagicMismatch)
}
