package signal

import "io"

// NewCSVWriter is a Sink that writes edges as CSV (RFC 4180): time_s,channel,edge,width_s. Call Close at the end.
func NewCSVWriter(w io.Writer) *CSVWriter { return newCSVWriter(w) }

// NewVCDWriter is a Sink that writes edges as VCD (IEEE 1364) with a timescale of 1 ns and the recording's zero at #0 or,
// when it begins before zero, shifted to start at #0 (a comment says by how much). Call Close with the end of the recording.
func NewVCDWriter(w io.Writer) *VCDWriter { return newVCDWriter(w) }
