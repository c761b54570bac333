package signal

import (
	"context"
	"errors"
	"io"
)

var errNotYet = errors.New("not written yet")

// CSVWriter writes edges as CSV.
type CSVWriter struct{}

// VCDWriter writes edges as VCD.
type VCDWriter struct{}

// Overview is the min/max pyramid.
type Overview struct{}

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

func scan(context.Context, Input, Options, Sink) (*Result, error) { return nil, errNotYet }
func readAll(context.Context, Input, Options) (*Recording, error) { return nil, errNotYet }
func (*Overview) query(context.Context, int, Second, Second, int) ([]Extent, error) {
	return nil, errNotYet
}
