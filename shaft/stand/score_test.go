package stand_test

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"phasewright/readings"
	"phasewright/shaft/stand"
)

// tally counts how something came out over the cases of a class.
type tally struct{ right, wrong, open int }

func (t *tally) add(o outcome) {
	switch o {
	case right:
		t.right++
	case wrong:
		t.wrong++
	case left:
		t.open++
	}
}

func (t tally) String() string {
	if t.right+t.wrong+t.open == 0 {
		return "·"
	}
	if t.open == 0 {
		return fmt.Sprintf("%d/%d", t.right, t.wrong)
	}
	return fmt.Sprintf("%d/%d/%d", t.right, t.wrong, t.open)
}

type outcome int

const (
	unasked outcome = iota
	right
	wrong
	left // open
)

// What is counted of a case.
const (
	ofRoles    = "roles"
	ofCount    = "vanes"   // edges a cycle
	ofEdge     = "edge"    // active edge, without a card
	ofSync     = "sync"    // held or not
	ofOffset   = "offset"  // truth inside [lo, hi]
	ofDelay    = "delay"   //
	ofLow      = "e-low"   // error at the lower end of the speeds that were recorded
	ofHigh     = "e-high"  //
	ofVerdict  = "verdict" // wrong by more than its U
	ofCylinder = "cyl"     // each cylinder against their mean
	ofDwell    = "dwell"
	ofClean    = "clean" // no anomaly where there is none
	ofFault    = "fault" // seen
)

var columns = []string{ofRoles, ofCount, ofEdge, ofSync, ofOffset, ofDelay, ofLow, ofHigh, ofVerdict, ofCylinder,
	ofDwell, ofClean, ofFault}

// mark is one thing counted of one case, with what was expected and said where that differs.
type mark struct {
	what string
	out  outcome
	note string
	miss float64 // degrees, for the worst one; 0: none
}

// judge compares what was said of an engine with the truth.
func judge(t stand.Truth, s said, carded bool) []mark {
	var ms []mark
	put := func(what string, out outcome, format string, a ...any) *mark {
		ms = append(ms, mark{what: what, out: out, note: fmt.Sprintf(format, a...)})
		return &ms[len(ms)-1]
	}
	yes := func(b bool) outcome {
		if b {
			return right
		}
		return wrong
	}
	if s.failed != "" {
		put(ofRoles, wrong, "failed: %s", s.failed)
		return ms
	}
	if s.refused != "" {
		put(ofRoles, left, "refused: %s", s.refused)
		return ms
	}
	put(ofRoles, rolesOf(t, s), "want %v, got %v", t.Roles, s.roles)
	castRight := ms[0].out == right
	crank := slices.Contains(t.Roles, stand.RoleCrank)
	told := carded || slices.Contains(t.Roles, stand.RoleCam) || slices.Contains(t.Roles, stand.RoleMark)
	if crank && castRight && s.perCycle > 0 && told {
		put(ofCount, yes(s.perCycle == t.Cylinders), "want %d, got %d", t.Cylinders, s.perCycle)
	}
	if crank && castRight && !carded && slices.Contains(t.Roles, stand.RoleSpark) && t.Fault != "wires reversed" {
		out := yes(s.edge == t.ActiveEdge)
		if s.edge == "" {
			out = left
		}
		put(ofEdge, out, "want %s, got %q", t.ActiveEdge, s.edge)
	}
	switch {
	case t.Sync == stand.SyncAny:
	case !castRight && s.sync == stand.SyncNone && t.Sync != stand.SyncNone:
		put(ofSync, left, "roles were left open")
	default:
		put(ofSync, yes(s.sync == t.Sync), "want %s, got %q", t.Sync, s.sync)
	}
	if t.Timed {
		ms = append(ms, judgeTiming(t, s)...)
	}
	if t.DwellMS > 0 && castRight {
		switch {
		case math.IsNaN(s.dwell):
			put(ofDwell, left, "none given, true %.3f ms", t.DwellMS)
		case t.RampDwell:
			put(ofDwell, yes(s.dwell <= t.DwellMS*1.02+0.02), "true %.3f ms, got %.3f from a ramp", t.DwellMS, s.dwell)
		default:
			put(ofDwell, yes(math.Abs(s.dwell-t.DwellMS) <= 0.03*t.DwellMS+0.02), "true %.3f ms, got %.3f", t.DwellMS, s.dwell)
		}
	}
	if t.Clean && castRight {
		sum := 0
		for _, a := range s.listed {
			if i := slices.Index(s.names, a.channel); i >= 0 && t.Roles[i] != stand.RoleSpark {
				sum++
			}
		}
		put(ofClean, yes(sum == 0), "nothing is wrong on the pickups, got %v of %v", sum, s.anomalies)
	}
	if out, note := faultSeen(t, s, carded); out != unasked && castRight {
		put(ofFault, out, "%s", note)
	}
	return ms
}

// rolesOf: a channel with a role that it does not have is wrong; one without a role is open.
func rolesOf(t stand.Truth, s said) outcome {
	if len(s.roles) != len(t.Roles) {
		return wrong
	}
	out := right
	for i, want := range t.Roles {
		switch got := s.roles[i]; {
		case got == want:
		case got == stand.RoleUnknown:
			out = left
		default:
			return wrong
		}
	}
	return out
}

func judgeTiming(t stand.Truth, s said) []mark {
	var ms []mark
	add := func(what string, truth, lo, hi float64, known bool, unit string, size float64) {
		m := mark{what: what, out: left, note: "open"}
		if known {
			m.out, m.miss = right, 0
			m.note = fmt.Sprintf("true %.3f %s, got [%.3f, %.3f]", truth, unit, lo, hi)
			if truth < lo || truth > hi {
				m.out = wrong
				m.miss = max(lo-truth, truth-hi) * size
			}
		}
		ms = append(ms, m)
	}
	told := func(v readings.Interval) bool {
		return s.timed && v.Known() && !math.IsInf(v.Hi-v.Lo, 0) && !math.IsNaN(v.Hi-v.Lo)
	}
	shift := 0.0
	if !s.commanded {
		shift = t.Advance // the offset is then the advance itself
	}
	if t.Curve == nil {
		add(ofOffset, t.Offset+shift, s.offset.Lo, s.offset.Hi, told(s.offset), "deg", 1)
		add(ofDelay, t.Delay, s.delay.Lo, s.delay.Hi, told(s.delay), "us", 0)
	}
	if t.Curve != nil && (s.verdict == "not a line" || slices.Contains(s.findings, "wrong_active_edge")) {
		return ms // it says that no line holds, or why
	}
	low, high := -1, -1
	for i, e := range s.at {
		if e.RPM < t.LowRPM*0.98 || e.RPM > t.HighRPM*1.02 || math.IsInf(e.U, 0) || math.IsNaN(e.U) {
			continue
		}
		if low < 0 || e.RPM < s.at[low].RPM {
			low = i
		}
		if high < 0 || e.RPM > s.at[high].RPM {
			high = i
		}
	}
	for _, end := range []struct {
		what string
		i    int
	}{{ofLow, low}, {ofHigh, high}} {
		if end.i < 0 {
			add(end.what, 0, 0, 0, false, "", 0)
			continue
		}
		e := s.at[end.i]
		add(end.what, t.Error(e.RPM)+shift, e.Value-e.U, e.Value+e.U, true, fmt.Sprintf("deg at %.0f rpm", e.RPM), 1)
	}
	if s.commanded && s.timed {
		ms = append(ms, judgeVerdict(t, s))
		if len(s.cylinder) == len(t.Cylinder) && t.Curve == nil {
			ms = append(ms, judgeCylinders(t, s))
		}
	}
	return ms
}

// judgeVerdict: pass where the true error is beyond tolerance + U, or correct where it is nowhere beyond
// tolerance − U.
func judgeVerdict(t stand.Truth, s said) mark {
	m := mark{what: ofVerdict, out: right}
	within := true
	for _, e := range s.at {
		if math.IsInf(e.U, 0) || math.IsNaN(e.U) {
			continue
		}
		true_ := math.Abs(t.Error(e.RPM))
		if s.verdict == "pass" && true_ > s.tolerance+e.U {
			m.out = wrong
			m.note = fmt.Sprintf("pass, but %.2f deg at %.0f rpm, U %.2f, tolerance %g", t.Error(e.RPM), e.RPM, e.U, s.tolerance)
		}
		within = within && true_ < s.tolerance-e.U
	}
	if s.verdict == "adjust" && within && len(s.at) > 0 {
		m.out, m.note = wrong, "to be adjusted, but within tolerance less U at all speeds"
	}
	if s.verdict == "read more" {
		m.out = left
	}
	return m
}

// judgeCylinders compares each cylinder's error, less the mean of all.
func judgeCylinders(t stand.Truth, s said) mark {
	m := mark{what: ofCylinder, out: right}
	mean, true_, n := 0.0, 0.0, 0.0
	for i, e := range s.cylinder {
		if !math.IsNaN(e) {
			mean, true_, n = mean+e, true_+t.Cylinder[i], n+1
		}
	}
	if n < 2 {
		m.out = unasked
		return m
	}
	for i, e := range s.cylinder {
		if math.IsNaN(e) {
			continue
		}
		miss := math.Abs(e - mean/n - t.Cylinder[i] + true_/n)
		if miss > 0.25+4*s.cylinderSD[i] {
			m.out, m.miss = wrong, max(m.miss, miss)
			m.note = fmt.Sprintf("firing %d: true %.2f deg against the mean, got %.2f", i, t.Cylinder[i]-true_/n, e-mean/n)
		}
	}
	return m
}

// faultSeen says whether the fault of a case shows in what was said.
func faultSeen(t stand.Truth, s said, carded bool) (outcome, string) {
	found := func(id string) (outcome, string) {
		if slices.Contains(s.findings, id) {
			return right, ""
		}
		return wrong, fmt.Sprintf("%s not found: %v", t.Fault, s.findings)
	}
	switch t.Fault {
	case "bent vane":
		if math.Abs(t.FaultSize) < 1.5 || t.Cylinders < 3 || len(s.late) != t.Cylinders {
			return unasked, ""
		}
		worst := 0
		for i, v := range s.late {
			if math.Abs(v) > math.Abs(s.late[worst]) {
				worst = i
			}
		}
		if carded && worst != t.FaultAt || math.Abs(s.late[worst]-t.FaultSize) > 0.4*math.Abs(t.FaultSize) {
			return wrong, fmt.Sprintf("vane %d late by %.1f, got %.2f", t.FaultAt, t.FaultSize, s.late)
		}
		return right, ""
	case "wrong edge":
		if carded {
			return found("wrong_active_edge")
		}
	case "wires reversed":
		if carded {
			if slices.Contains(s.findings, "wrong_active_edge") || s.verdict == "not a line" || s.verdict == "adjust" {
				return right, ""
			}
			return wrong, fmt.Sprintf("reversed wires not seen: verdict %q, %v", s.verdict, s.findings)
		}
	case "leads swapped":
		return found("leads_swapped")
	case "missing pulses":
		got := s.anomalies["missing_pulse"] + s.anomalies["dropout"]
		if t.Missing == 0 {
			return unasked, ""
		}
		if got == 0 {
			return wrong, fmt.Sprintf("%d pulses missing, none said", t.Missing)
		}
		return right, ""
	case "extra pulses":
		if t.Extra == 0 {
			return unasked, ""
		}
		if s.anomalies["extra_pulse"]+s.anomalies["short_pulse"] == 0 {
			return wrong, fmt.Sprintf("%d pulses extra, none said", t.Extra)
		}
		return right, ""
	}
	return unasked, ""
}

// line is one row of the report.
type line struct {
	name  string
	cases int
	by    map[string]*tally
	worst float64
}

func newLine(name string) *line {
	l := &line{name: name, by: map[string]*tally{}}
	for _, c := range columns {
		l.by[c] = &tally{}
	}
	return l
}

func (l *line) add(ms []mark) {
	l.cases++
	for _, m := range ms {
		l.by[m.what].add(m.out)
		l.worst = max(l.worst, m.miss)
	}
}

func (l *line) String() string {
	var b strings.Builder
	fmt.Fprintf(&b, "%-23s%4d", l.name, l.cases)
	for _, c := range columns {
		fmt.Fprintf(&b, " %8s", l.by[c])
	}
	fmt.Fprintf(&b, " %7.2f", l.worst)
	return b.String()
}

func heading() string {
	var b strings.Builder
	fmt.Fprintf(&b, "%-23s%4s", "right/wrong/open", "n")
	for _, c := range columns {
		fmt.Fprintf(&b, " %8s", c)
	}
	fmt.Fprintf(&b, " %7s", "worst°")
	return b.String()
}
