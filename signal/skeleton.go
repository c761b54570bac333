package signal

import (
	"errors"
	"io"
)

var errNotYet = errors.New("not written yet")

// CSVWriter writes edges as CSV.
type CSVWriter struct{}

// VCDWriter writes edges as VCD.
type VCDWriter struct{}

func newCSVWriter(io.Writer) *CSVWriter { return &CSVWriter{} }
func newVCDWriter(io.Writer) *VCDWriter { return &VCDWriter{} }

// Begin writes the head.
func (*CSVWriter) Begin(Info) error { return errNotYet }

// Edges writes a batch.
func (*CSVWriter) Edges([]Edge) error { return errNotYet }

// Close flushes.
func (*CSVWriter) Close() error { return errNotYet }

// Begin writes the head.
func (*VCDWriter) Begin(Info) error { return errNotYet }

// Edges writes a batch.
func (*VCDWriter) Edges([]Edge) error { return errNotYet }

// Close writes the last time stamp and flushes.
func (*VCDWriter) Close(end Second) error { return errNotYet }
