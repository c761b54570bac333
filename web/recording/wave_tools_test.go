package recording_test

import (
	"strings"
	"testing"

	"phasewright/web/webtest"
)

// captured stores a file with a job, waits until it is read, and gives the address of its waveform.
func captured(s *webtest.Shop, job, name string, data []byte) string {
	s.T.Helper()
	return sent(s, job, name, data, nil) + "/wave"
}

// part is a piece of a page between two texts.
func between(t testing.TB, body, from, to string) string {
	t.Helper()
	_, rest, ok := strings.Cut(body, from)
	piece, _, end := strings.Cut(rest, to)
	if !ok || !end {
		t.Fatalf("page lacks %q … %q:\n%s", from, to, body)
	}
	return piece
}
