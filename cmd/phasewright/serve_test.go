package main

import (
	"bytes"
	"context"
	"net/http"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"
)

// said is what a running command has written so far.
type said struct {
	mu  sync.Mutex
	all bytes.Buffer
}

func (s *said) Write(b []byte) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.all.Write(b)
}

func (s *said) String() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.all.String()
}

// The level of the log is what --log-level says; each request is told of at debug only.
func TestServeLogsAtTheLevelAskedFor(t *testing.T) {
	for _, c := range []struct {
		args []string
		want bool
	}{{nil, false}, {[]string{"--log-level", "debug"}, true}} {
		var errs said
		ctx, stop := context.WithCancel(t.Context())
		ended := make(chan int, 1)
		args := append([]string{"serve", "--book", filepath.Join(t.TempDir(), "a.book"), "--listen", "127.0.0.1:0"},
			c.args...)
		go func() { ended <- run(ctx, args, strings.NewReader(""), &bytes.Buffer{}, &errs) }()
		var base string
		for end := time.Now().Add(10 * time.Second); base == "" && time.Now().Before(end); {
			time.Sleep(5 * time.Millisecond)
			if m := regexp.MustCompile(`http://localhost:\d+`).FindString(errs.String()); m != "" {
				base = m
			}
		}
		answer, err := http.Get(base + "/")
		if err != nil {
			t.Fatal(err)
		}
		answer.Body.Close()
		stop()
		if status := <-ended; status != statusFine {
			t.Errorf("status %d: %s", status, &errs)
		}
		if got := strings.Contains(errs.String(), "level=DEBUG msg=request method=GET path=/ "); got != c.want {
			t.Errorf("%v: request logged: %v, want %v:\n%s", c.args, got, c.want, &errs)
		}
	}
	var errs said
	args := []string{"serve", "--log-level", "loud"}
	status := run(t.Context(), args, strings.NewReader(""), &bytes.Buffer{}, &errs)
	if status != statusUnread || !strings.Contains(errs.String(), "must be one of") {
		t.Errorf("status %d: %s", status, &errs)
	}
}
