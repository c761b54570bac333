package webtest

import (
	"os"
	"testing"

	"github.com/chromedp/chromedp"
)

// Axe is the accessibility checker that the test script fetches; without it the check is skipped, under CI it fails.
func Axe(t *testing.T) string {
	if text, err := os.ReadFile(InRepository("node_modules", "axe-core", "axe.min.js")); err == nil {
		return string(text)
	}
	if os.Getenv("CI") != "" {
		t.Fatal("axe-core is not there: accessibility was not checked; scripts/test fetches it")
	}
	t.Skip("SKIPPED: axe-core is not there, so accessibility was NOT checked; scripts/test fetches it")
	return ""
}

// EvalPromise evaluates and waits for the promise's text.
func EvalPromise(s *Screen, js string) string {
	s.T.Helper()
	v, err := chromedp.Run(s.Ctx, chromedp.Evaluate[string](js, chromedp.EvalAwaitPromise))
	if err != nil {
		s.T.Fatalf("%.80s: %v", js, err)
	}
	return v
}
