// Package waveform turns a recorded file into levels and edges: what stood on each wire, and when it changed.
//
// It reads tables as scopes write them (CSV), logic changes (VCD, IEEE 1364-2005 clause 18) and sound-card recordings
// (RIFF/WAVE, RF64, BW64), each also inside gzip or zstd. What a file is, is told by its content, never by its name.
//
// The rooms below do one thing each: csv, vcd and wav give values or changes and nothing else, edges finds levels and
// edges in them (IEEE 181), block holds the words that all share. Times are seconds on the recording's own clock (zero
// is often the trigger, so times may be negative). Values are in the channel's unit (V, A); a sound card has no DC, so
// its levels are relative.
//
// A file of any size passes through in bounded memory: chunks are parsed in parallel, then joined in file order, and
// edges go to a Sink in batches in time order. The result does not depend on chunk size or on the number of workers.
//
// Levels must be known before edges. A survey reads up to about a million values first: spread over the whole file
// where the input can be read at any place, from its beginning where it cannot. A channel that stayed still in the
// survey is learnt when it wakes (see Reviser). Stretches of lower pulses, as a supply that sags on the starter gives,
// are looked for there and in the recording's beginning: they count as pulses, single runts do not.
//
// What fails: ErrTruncated, ErrMalformed, ErrImpossible, each inside a *Problem with line or byte position.
package waveform

import (
	"context"
	"io"

	"phasewright/waveform/block"
	"phasewright/waveform/edges"
)

// Words that the rooms below share.
type (
	Second   = block.Second
	Kind     = block.Kind
	Method   = block.Method
	EdgeKind = block.EdgeKind
	Edge     = block.Edge
	Channel  = block.Channel
	Warning  = block.Warning
	Problem  = block.Problem
)

// Kinds of channel.
const (
	Analog  = block.Analog
	Digital = block.Digital
	Bus     = block.Bus
)

// Methods. MethodAuto lets the survey choose.
const (
	MethodAuto     = block.MethodAuto
	ByState        = block.ByState
	ByLevels       = block.ByLevels
	ByChanges      = block.ByChanges
	ByZeroCrossing = block.ByZeroCrossing
	MethodNone     = block.MethodNone
)

// Kinds of edge.
const (
	Rise      = block.Rise
	Fall      = block.Fall
	FoundLow  = block.FoundLow
	FoundHigh = block.FoundHigh
	Lost      = block.Lost
	ShortHigh = block.ShortHigh
	ShortLow  = block.ShortLow
)

// The three ways in which a recording fails; errors.Is tells them apart.
var (
	ErrTruncated  = block.ErrTruncated
	ErrMalformed  = block.ErrMalformed
	ErrImpossible = block.ErrImpossible
)

// Format is what the content of a file turned out to be.
type Format uint8

// The formats that are read.
const (
	FormatUnknown Format = iota
	FormatCSV
	FormatVCD
	FormatWAV
)

// Info is what is known of a recording before its edges.
type Info struct {
	Name     string
	Format   Format
	Channels []Channel
	Interval Second // time between samples; 0 when rows are not evenly spaced or the file holds changes
	Tick     Second // what a time stamp counts in; 0 where times are not counted
	Start    Second // time of the first sample
	Size     int64  // bytes of input; -1 when unknown
}

// Sink takes what Scan finds. Begin is called once, before any edge. Edges is called with batches in order of time
// (equal times: in order of channel); the slice may be reused after the call returns. An error from either ends the
// scan and is returned.
type Sink interface {
	Begin(Info) error
	edges.Sink
}

// Reviser is a Sink that wants to hear of channels whose levels were learnt after Begin. Revise comes before the first
// edge of that channel.
type Reviser = edges.Reviser

// Result is what stood at the end.
type Result struct {
	Info
	End      Second // time of the last sample, or the last time stamp
	Rows     int64  // samples per channel, or time stamps of a VCD
	Bytes    int64  // of decompressed data that were read; after a fault, up to the end of the chunk that it is in
	Warnings []Warning
	Partial  *Problem // non-nil: the recording could not be read to its end; everything up to there was given
	Overview *Overview
}

// Duration is the length of the recording in seconds: last sample less first.
func (r *Result) Duration() Second { return r.End - r.Start }

// Options steer a scan. The zero value is ready for use.
type Options struct {
	Workers  int    // parsing goroutines; 0: one a processor
	Chunk    int    // bytes a chunk; 0: 256 KiB. The result does not depend on it
	Glitch   Second // shortest pulse accepted; 0: only pulses of no width are dropped
	Methods  map[string]Method
	Progress func(done, total int64) // bytes of input read so far (compressed ones, if so); total is -1 when unknown

	MaxDecompressed int64 // most bytes that a compressed input may grow to; 0: 64 GiB
	Overview        bool  // build the min/max overview (Result.Overview)
	// Spill is where the overview keeps its fine stretches; nil: coarse ones in memory only, fine ones are read from
	// the file again.
	Spill ReadWriterAt
}

// ReadWriterAt is scratch space, such as a temporary file.
type ReadWriterAt interface {
	io.ReaderAt
	io.WriterAt
}

// Input is a recording to read: made by File or Stream.
type Input struct {
	name string
	at   io.ReaderAt
	size int64
	r    io.Reader
}

// File is an input that can be read at any place, such as an open file of the given size in bytes. name is used in
// messages only.
func File(name string, r io.ReaderAt, size int64) Input { return Input{name: name, at: r, size: size} }

// Stream is an input that can only be read on, such as a pipe. size is in bytes, -1 when unknown.
func Stream(name string, r io.Reader, size int64) Input { return Input{name: name, r: r, size: size} }

// Scan reads the recording and hands its channels and edges to sink.
//
// The error is nil when all was read, also when the end was cut off (Result.Partial then says where, kind
// ErrTruncated). Otherwise it is a *Problem, an error of the sink, of the input, or of ctx. A Result comes with an
// error too as soon as Begin was called; its Partial is then set.
func Scan(ctx context.Context, in Input, opt Options, sink Sink) (*Result, error) {
	return scan(ctx, in, opt, sink, nil)
}
