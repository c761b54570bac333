package stand_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"math"
	"strings"
	"time"

	"phasewright/jobcard"
	"phasewright/readings"
	"phasewright/shaft"
	"phasewright/shaft/stand"
	"phasewright/waveform"
)

// said is what the room under test says of a case, in the few words that the report counts. All that the report
// knows of room shaft stands in this file.
type said struct {
	failed   string // error or panic; "" where there is none
	refused  string // the file, in words to the person
	names    []string
	roles    []string
	reasons  []string
	speed    bool
	sync     stand.Sync
	perCycle int
	edge     jobcard.Edge // "": assumed only

	timed         bool
	offset, delay readings.Interval
	commanded     bool
	at            []readings.ErrorAt
	verdict       string
	tolerance     float64
	cylinder      []float64 // error of each cylinder that has one, in firing order; NaN where it has none
	cylinderSD    []float64
	dwell         float64          // NaN: none
	anomalies     map[string]int64 // by kind
	listed        []anomaly
	findings      []string
	late          []float64 // spacing errors, degrees
	lasted        time.Duration
	notes         []string // findings and doubts in words
}

type anomaly struct{ kind, channel string }

// engineSeen says whether the recording was taken for an engine: a crank that turns and whose place is known,
// or a timing.
func (s said) engineSeen() bool {
	for _, r := range s.roles {
		if r == stand.RoleCrank {
			return s.timed || s.speed && (s.sync == stand.SyncHeld || s.sync == stand.SyncLost)
		}
	}
	return s.timed
}

// ask lets room shaft read a case, with a card or without (nil).
func ask(c *stand.Case, card *jobcard.Card) (s said) {
	defer func() {
		if p := recover(); p != nil {
			s.failed = fmt.Sprint("panic: ", p)
		}
	}()
	var source shaft.Source = shaft.Events{Info: c.Info, Edges: c.Edges, End: c.End}
	if c.File != nil {
		source = shaft.Recording{Input: waveform.File(c.Name, bytes.NewReader(c.File), int64(len(c.File)))}
	}
	begin := time.Now()
	r, err := shaft.Run(context.Background(), source, shaft.Options{Card: card, MarkLimit: stand.MarkLimit})
	s.lasted = time.Since(begin)
	if problem := (*waveform.Problem)(nil); errors.As(err, &problem) && c.File != nil {
		s.refused = problem.Error()
	} else if err != nil {
		s.failed = err.Error()
	}
	if r == nil {
		return s
	}
	for _, ch := range r.Channels {
		s.names, s.roles = append(s.names, ch.Name), append(s.roles, string(ch.Role))
		s.reasons = append(s.reasons, ch.Name+": "+ch.Reason)
	}
	s.speed, s.sync = r.Speed != nil, stand.Sync(r.Sync)
	s.anomalies = r.AnomalyCount
	for _, a := range r.Anomalies {
		s.listed = append(s.listed, anomaly{string(a.Kind), a.Channel})
	}
	for _, f := range r.Findings {
		s.findings = append(s.findings, f.ID)
		s.notes = append(s.notes, f.ID+": "+f.Text)
	}
	for _, d := range r.Doubts {
		s.notes = append(s.notes, "doubt: "+d)
	}
	if r.Crank != nil {
		s.perCycle, s.late = r.Crank.EdgesPerCycle, r.Crank.SpacingErrorDeg
		if !strings.Contains(r.Crank.ActiveBecause, "assumed") {
			s.edge = jobcard.Edge(r.Crank.ActiveEdge)
		}
	}
	s.dwell = math.NaN()
	if r.Spark != nil {
		s.dwell = float64(r.Spark.DwellMS)
		for _, y := range r.Spark.ByCylinder {
			s.cylinder = append(s.cylinder, float64(y.Error))
			s.cylinderSD = append(s.cylinderSD, float64(y.ScatterSD)/math.Sqrt(float64(max(y.Count, 1))))
		}
	}
	if t := r.Timing; t != nil {
		s.timed, s.offset, s.delay, s.commanded = true, t.Offset, t.Delay, t.Commanded
		s.at, s.verdict, s.tolerance = t.ErrorAt, string(t.Verdict), t.Tolerance
	}
	return s
}

// words is what was said, in a few lines.
func (s said) words() string {
	var b strings.Builder
	fmt.Fprintf(&b, "roles %v, speed %v, sync %s, per cycle %d, active %s, dwell %.3f ms, %v\n",
		s.roles, s.speed, s.sync, s.perCycle, s.edge, s.dwell, s.lasted.Round(time.Millisecond))
	fmt.Fprintf(&b, "findings %v anomalies %v spacing %.2f\n", s.findings, s.anomalies, s.late)
	if s.timed {
		o, d := s.offset, s.delay
		fmt.Fprintf(&b, "offset %.3f [%.3f, %.3f]  delay %.1f [%.1f, %.1f]  verdict %s (tolerance %g)\n",
			o.Value, o.Lo, o.Hi, d.Value, d.Lo, d.Hi, s.verdict, s.tolerance)
		for _, e := range s.at {
			fmt.Fprintf(&b, "  at %.0f rpm %.3f ± %.3f\n", e.RPM, e.Value, e.U)
		}
	}
	if s.failed != "" {
		fmt.Fprintf(&b, "FAILED %s\n", s.failed)
	}
	return b.String()
}
