package waveform

import (
	"bytes"
	"context"
	"encoding/json"
	"io"
	"testing"
)

// reviseSink notes whether a channel's edges come before word of its levels.
var errEOF = io.EOF

type reviseSink struct {
	revised  int
	early    bool
	last     Second
	unsorted bool
}

func (*reviseSink) Begin(Info) error { return nil }

func (s *reviseSink) Revise(int, Channel) error { s.revised++; return nil }

func (s *reviseSink) Edges(edges []Edge) error {
	for i, e := range edges {
		if e.Channel == 1 && s.revised == 0 {
			s.early = true
		}
		if e.At < s.last && i > 0 {
			s.unsorted = true
		}
		s.last = e.At
	}
	return nil
}

func scanBytes(t testing.TB, b []byte, opt Options, s Sink) *Result {
	t.Helper()
	r, err := Scan(context.Background(), File("x", bytes.NewReader(b), int64(len(b))), opt, s)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// caseTexts collects every string under the given key, at any depth.
func caseTexts(t testing.TB, raw []byte, key string) (out []string) {
	t.Helper()
	var v any
	if err := json.Unmarshal(raw, &v); err != nil {
		t.Fatal(err)
	}
	var walk func(any)
	walk = func(v any) {
		switch v := v.(type) {
		case []any:
			for _, x := range v {
				walk(x)
			}
		case map[string]any:
			if s, ok := v[key].(string); ok {
				out = append(out, s)
			}
			for _, x := range v {
				walk(x)
			}
		}
	}
	walk(v)
	if len(out) == 0 {
		t.Fatalf("no %q among the cases", key)
	}
	return out
}

// fragile breaks while it parses.
type fragile struct{}

func (fragile) split(b []byte, last bool) int { return len(b) }
func (fragile) parse(c *chunk)                { panic("a broken invariant") }
func (fragile) commit(c *chunk) error         { return nil }
