package job_test

import (
	"strings"
	"testing"

	"phasewright/procedure"
	"phasewright/suspects"
	"phasewright/web/job"
	"phasewright/web/webtest"
)

// With the bar on the crank no look may be advised that turns the starter or runs the engine; a job not worked by the
// order has no limits.
func TestLimitsOfThePlant(t *testing.T) {
	s := webtest.NewShop(t)
	id := s.NewJob()
	of := func() suspects.Limits {
		t.Helper()
		j, err := s.Shelf.Job(t.Context(), id)
		if err != nil {
			t.Fatal(err)
		}
		return job.Limits(j)
	}
	if l := of(); len(l.Barred) != 0 {
		t.Errorf("limits before the first step: %v", l.Barred)
	}
	s.UpTo(id, procedure.StepMarks) // the bar is on the crank, battery and feeds off
	l := of()
	for _, state := range []suspects.State{suspects.OnStarter, suspects.Starts, suspects.Runs, suspects.HighSpeed, suspects.KeyOn} {
		if l.Barred[state] == "" {
			t.Errorf("%s is not barred with tools on the crank: %v", state, l.Barred)
		}
	}
	if why := l.Barred[suspects.ByHand]; why != "" {
		t.Errorf("turning by hand is barred on a made-safe plant: %s", why)
	}
	if !strings.Contains(l.Barred[suspects.OnStarter], "bar") {
		t.Errorf("the reason says nothing of the bar: %s", l.Barred[suspects.OnStarter])
	}
}
