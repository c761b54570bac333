package webtest

import (
	"bufio"
	"context"
	"net/http"
	"strings"
	"testing"
)

func ListenAt(t testing.TB, ctx context.Context, address string) <-chan string {
	t.Helper()
	r, err := http.NewRequestWithContext(ctx, "GET", address, nil)
	if err != nil {
		t.Fatal(err)
	}
	answer, err := http.DefaultClient.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	if answer.StatusCode != 200 || answer.Header.Get("Content-Type") != "text/event-stream" {
		t.Fatalf("stream: %s %s", answer.Status, answer.Header)
	}
	events := make(chan string, 100)
	go func() {
		defer answer.Body.Close()
		defer close(events)
		lines := bufio.NewScanner(answer.Body)
		lines.Buffer(nil, 1<<20)
		name := ""
		for lines.Scan() {
			if n, ok := strings.CutPrefix(lines.Text(), "event: "); ok {
				name = n
			}
			if d, ok := strings.CutPrefix(lines.Text(), "data: "); ok {
				select {
				case events <- name + " " + d:
				case <-ctx.Done():
					return
				}
			}
		}
	}()
	return events
}
