package shaft

import (
	"fmt"
	"math"
	"reflect"
	"strings"
)

// Limits of what a result may hold: wide enough for every recording, narrow enough to be drawn.
const (
	mostFigure = 1e15 // of any figure
	mostRPM    = 1e6
	mostListed = 100_000 // of any list
)

// Check finds what cannot be in a result of Run. It is for a result read from a file, which anybody may have written.
// The place is named as in JSON.
func (r *Result) Check() error {
	if at, what := impossible(reflect.ValueOf(r), mostFigure); what != "" {
		return fmt.Errorf("summary%s is impossible: %s", at, what)
	}
	if r.DurationS < 0 || r.Edges < 0 {
		return fmt.Errorf("summary is impossible: it lasts %g s with %d edges", r.DurationS, r.Edges)
	}
	if c := r.Crank; c != nil && (c.EdgesPerCycle < 0 || c.EdgesPerCycle > mostListed) {
		return fmt.Errorf("summary.crank.edges_per_cycle is impossible: %d", c.EdgesPerCycle)
	}
	if r.Series == nil {
		return nil
	}
	for i, p := range r.Series.Cycle {
		if p.Deg < -720 || p.Deg > 1440 {
			return fmt.Errorf("summary.series.cycle[%d].deg is impossible: %g°", i, p.Deg)
		}
	}
	return nil
}

// impossible finds the first figure or list in v that is too large: its place, and what it is. NaN and infinity mean
// that a figure is not known, and are allowed.
func impossible(v reflect.Value, most float64) (at, what string) {
	switch v.Kind() {
	case reflect.Pointer:
		if !v.IsNil() {
			return impossible(v.Elem(), most)
		}
	case reflect.Struct:
		for i := range v.NumField() {
			f := v.Type().Field(i)
			if !f.IsExported() {
				continue
			}
			name, _, _ := strings.Cut(f.Tag.Get("json"), ",")
			if name == "" {
				name = strings.ToLower(f.Name)
			}
			most := most
			if strings.HasSuffix(name, "rpm") || name == "speed" {
				most = mostRPM
			}
			if at, what = impossible(v.Field(i), most); what != "" {
				return "." + name + at, what
			}
		}
	case reflect.Slice:
		if v.Len() > mostListed {
			return "", fmt.Sprintf("a list of %d", v.Len())
		}
		for i := range v.Len() {
			if at, what = impossible(v.Index(i), most); what != "" {
				return fmt.Sprintf("[%d]%s", i, at), what
			}
		}
	case reflect.Float64:
		if x := math.Abs(v.Float()); x > most && !math.IsInf(x, 1) {
			return "", fmt.Sprintf("%g", v.Float())
		}
	case reflect.Int, reflect.Int64:
		if x := v.Int(); x > mostFigure || x < -mostFigure {
			return "", fmt.Sprint(x)
		}
	}
	return "", ""
}
