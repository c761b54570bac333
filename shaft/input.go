package shaft

import (
	"context"

	"phasewright/waveform"
)

// Source is where edges come from: a recorded file, or edges already at hand.
type Source interface {
	// Scan hands channels and edges to sink as waveform.Scan does.
	Scan(ctx context.Context, sink waveform.Sink) (*waveform.Result, error)
}

// Recording is a file or stream to be read by package waveform.
type Recording struct {
	Input   waveform.Input
	Options waveform.Options
}

// Scan reads the recording.
func (r Recording) Scan(ctx context.Context, sink waveform.Sink) (*waveform.Result, error) {
	return waveform.Scan(ctx, r.Input, r.Options, sink)
}

// Events are edges in memory, in order of time.
type Events struct {
	Info  waveform.Info
	Edges []waveform.Edge
	End   waveform.Second // of the recording
}

const batch = 4096

// Scan gives the edges to sink in batches.
func (e Events) Scan(ctx context.Context, sink waveform.Sink) (*waveform.Result, error) {
	res := &waveform.Result{Info: e.Info, End: e.End}
	if err := sink.Begin(e.Info); err != nil {
		return nil, err
	}
	for rest := e.Edges; len(rest) > 0; {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		n := min(batch, len(rest))
		if err := sink.Edges(rest[:n]); err != nil {
			return nil, err
		}
		rest = rest[n:]
	}
	return res, nil
}
