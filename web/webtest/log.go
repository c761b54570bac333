package webtest

import (
	"bytes"
	"log/slog"
	"strings"
	"sync"
	"testing"

	"phasewright/web"
)

// Lines is a log that several goroutines may write into.
type Lines struct {
	Mu  sync.Mutex
	All bytes.Buffer
}

func (l *Lines) Write(b []byte) (int, error) {
	l.Mu.Lock()
	defer l.Mu.Unlock()
	return l.All.Write(b)
}

func (l *Lines) String() string {
	l.Mu.Lock()
	defer l.Mu.Unlock()
	return l.All.String()
}

// With gives the one line that holds a text.
func (l *Lines) With(t testing.TB, text string) string {
	t.Helper()
	var found []string
	for line := range strings.Lines(l.String()) {
		if strings.Contains(line, text) {
			found = append(found, line)
		}
	}
	if len(found) != 1 {
		t.Fatalf("%d lines hold %q:\n%s", len(found), text, l)
	}
	return found[0]
}

// Logged lets a server write everything that it has to say.
func Logged(to *Lines) func(*web.Config) {
	return func(c *web.Config) {
		c.Log = slog.New(slog.NewTextHandler(to, &slog.HandlerOptions{Level: slog.LevelDebug}))
	}
}
