// package waveform turns a recorded file into levels and edges: what stood on each wire, and when it changed.
//
// It reads tables as scopes write them (CSV), logic changes (VCD, IEEE 1364-2005 clause 18) and sound-card recordings
// (RIFF/WAVE, RF64, BW64), each also inside gzip or zstd. What a file is, is told by its content, never by its name.
//
// Words and methods follow IEEE 181: two state levels by histogram, edges at the 50 % mid-reference level between them, timed by a straight line
// between the two samples beside it. Times are seconds on the recording's own clock (zero is often the trigger, so
// times may be negative). Values are in the channel's unit (V, A); a sound card has no DC, so its levels are relative.
//
// A file of any size passes through in bounded memory: chunks are parsed in parallel, then joined in file order, and
// edges go to a Sink in batches in time order. The result does not depend on chunk size or on the number of workers.
//
// Levels must be known before edges. A survey reads up to about a million values first: spread over the whole file where the
// input can be read at any place, from its beginning where it cannot. A channel that stayed still in the survey and
// wakes later is learnt from the 65,536 samples that follow, before any of its edges is given out (see Reviser). Stretches of lower pulses, as a supply that
// sags on the starter gives, are looked for there and in the recording's beginning: they count as pulses, single runts do not.
//
// What fails: ErrTruncated, ErrMalformed, ErrImpossible, each inside a *Problem with line or byte position.
package waveform

import (
	"context"
	"io"
)

// Second is an instant, or a span, in seconds on the recording's own clock.
type Second float64

// Format is what the content of a file turned out to be.
type Format uint8

// The formats that are read.
const (
	FormatUnknown Format = iota
	FormatCSV
	FormatVCD
	FormatWAV
)

// Kind says what sort of wire a channel is.
type Kind uint8

// Kinds of channel.
const (
	Analog  Kind = iota // sampled voltage or current
	Digital             // one bit; x and z are "unknown"
	Bus                 // several bits, an integer, an event: changes are counted, no edges are given
)

// Method is the way edges are found on a channel.
type Method uint8

// Methods. MethodAuto lets the survey choose.
const (
	MethodAuto     Method = iota
	ByState               // logic states: an edge stands at the time of the change
	ByLevels              // 50 % crossing between two state levels, with hysteresis
	ByChanges             // AC-coupled or drifting: a step, timed half-way between the values before and after it
	ByZeroCrossing        // variable reluctance: armed by a large swing, timed where the signal comes back through zero
	MethodNone            // no usable signal: constant, or noise only
)

// EdgeKind says what happened at an instant.
type EdgeKind uint8

// Kinds of edge. Each channel begins with FoundLow or FoundHigh: its first known state, which is no edge. Lost and the
// next Found… enclose a time in which the state is unknown (x or z in a VCD). ShortHigh and ShortLow are pulses shorter
// than Options.Glitch, or of no width at all: their two edges are not given as Rise and Fall.
const (
	Rise EdgeKind = iota
	Fall
	FoundLow
	FoundHigh
	Lost
	ShortHigh
	ShortLow
)

// Edge is one event on one channel.
type Edge struct {
	At      Second
	Width   Second // ShortHigh and ShortLow only: how long the pulse was
	Channel int32  // index into Info.Channels
	Kind    EdgeKind
}

// Channel is one wire of the recording. Fields up to Active are known when Sink.Begin is called (unless revised); counts are
// complete in the Result.
type Channel struct {
	Name     string   // VCD: with its scopes, "top.crank"
	Aliases  []string // VCD: other names declared for the same wire
	Unit     string   // "V", "A", ... or "" for logic and for relative levels
	Kind     Kind
	Method   Method
	Relative bool     // levels are on a sound card's own scale, full scale = 1
	Held     bool     // a value holds until the next row (one row a change); else samples are joined by straight lines
	Low      float64  // low state level; NaN when there is none
	High     float64  // high state level
	Noise    float64  // standard deviation of the noise about the levels
	Ramp     bool     // a saw-tooth, as a coil's current: it climbs slowly and ends sharply; the first edge of a pulse stands well after its beginning
	Active   EdgeKind // ByZeroCrossing: the steeper polarity (Rise or Fall), the one worth timing; else Rise

	Rises, Falls   int64
	Shorts         int64   // pulses dropped as shorter than the glitch width
	Slow           int64   // edges whose transition lasted more than 65,536 samples: timed at its end
	Changes        int64   // Bus: changes of value
	Lost           int64   // times that the state became unknown
	Missing        int64   // samples without a value
	Over, Under    int64   // samples beyond the recorder's range
	Least, Largest float64 // extreme finite values seen; NaN when none
}

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

// Sink takes what Scan finds. Begin is called once, before any edge. Edges is called with batches in order of time (equal times:
// in order of channel); the slice may be reused after the call returns. An error from either ends the scan and is returned.
type Sink interface {
	Begin(Info) error
	Edges([]Edge) error
}

// Reviser is a Sink that wants to hear of channels whose levels were learnt after Begin. Revise comes before the first edge of that channel.
type Reviser interface {
	Revise(index int, c Channel) error
}

// Warning is a doubt about the recording that did not stop the reading.
type Warning struct {
	Line    int64 // from 1; 0 when it does not apply
	Byte    int64 // from 0 in the decompressed data; -1 when it does not apply
	Channel int   // -1: the whole recording
	Text    string
}

// Result is what stood at the end.
type Result struct {
	Info
	End      Second // time of the last sample, or the last time stamp
	Rows     int64  // samples per channel, or time stamps of a VCD
	Bytes    int64  // bytes of decompressed data that were read; after a fault, up to the end of the chunk that it is in
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

	MaxDecompressed int64        // most bytes that a compressed input may grow to; 0: 64 GiB
	Overview        bool         // build the min/max overview (Result.Overview)
	Spill           ReadWriterAt // where the overview keeps its fine levels; nil: coarse levels in memory only, fine ones are read from the file again
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

// File is an input that can be read at any place, such as an open file of the given size in bytes. name is used in messages only.
func File(name string, r io.ReaderAt, size int64) Input { return Input{name: name, at: r, size: size} }

// Stream is an input that can only be read on, such as a pipe. size is in bytes, -1 when unknown.
func Stream(name string, r io.Reader, size int64) Input { return Input{name: name, r: r, size: size} }

// Scan reads the recording and hands its channels and edges to sink.
//
// The error is nil when all was read, also when the end was cut off (Result.Partial then says where, kind ErrTruncated). Otherwise it is a *Problem, an
// error of the sink, of the input, or of ctx. A Result comes with an error too as soon as Begin was called; its Partial is then set.
func Scan(ctx context.Context, in Input, opt Options, sink Sink) (*Result, error) {
	return scan(ctx, in, opt, sink)
}
