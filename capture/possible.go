package capture

import (
	"fmt"
	"math"
	"reflect"
	"strings"
)

// Limits of what a result may hold: wide enough for every recording, narrow enough for its drawings.
const (
	mostFigure = 1e15 // of any figure
	mostRPM    = 1e6
	mostListed = 100_000 // of any list
)

// Check reports what in a result cannot be one of Run's: it came back from a file, which anybody may have written. The place is named as in JSON.
func (r *Result) Check() error {
	if err := possible("summary", reflect.ValueOf(r)); err != nil {
		return err
	}
	if r.DurationS < 0 || r.Edges < 0 {
		return fmt.Errorf("summary is impossible: it lasts %g s with %d edges", r.DurationS, r.Edges)
	}
	if c := r.Crank; c != nil && (c.EdgesPerCycle < 0 || c.EdgesPerCycle > mostListed) {
		return fmt.Errorf("crank.edges_per_cycle is impossible: %d", c.EdgesPerCycle)
	}
	if r.Series == nil {
		return nil
	}
	for i, p := range r.Series.Cycle {
		if p.Deg < -720 || p.Deg > 1440 {
			return fmt.Errorf("series.cycle[%d].deg is impossible: %g°", i, p.Deg)
		}
	}
	return nil
}

// possible walks through all of a value.
func possible(at string, v reflect.Value) error {
	switch v.Kind() {
	case reflect.Pointer:
		if !v.IsNil() {
			return possible(at, v.Elem())
		}
	case reflect.Struct:
		for i := range v.NumField() {
			f := v.Type().Field(i)
			name, _, _ := strings.Cut(f.Tag.Get("json"), ",")
			if !f.IsExported() {
				continue
			}
			if name == "" {
				name = strings.ToLower(f.Name)
			}
			if err := possible(at+"."+name, v.Field(i)); err != nil {
				return err
			}
		}
	case reflect.Slice:
		if v.Len() > mostListed {
			return fmt.Errorf("%s is impossible: a list of %d", at, v.Len())
		}
		for i := range v.Len() {
			if err := possible(fmt.Sprintf("%s[%d]", at, i), v.Index(i)); err != nil {
				return err
			}
		}
	case reflect.Float64:
		x := math.Abs(v.Float())
		rpm := strings.HasSuffix(at, "rpm") || strings.Contains(at, ".speed")
		if !math.IsInf(x, 1) && (x > mostFigure || rpm && x > mostRPM) { // unknown figures are NaN or infinite
			return fmt.Errorf("%s is impossible: %g", at, v.Float())
		}
	case reflect.Int, reflect.Int64:
		if x := v.Int(); x > mostFigure || x < -mostFigure {
			return fmt.Errorf("%s is impossible: %d", at, x)
		}
	}
	return nil
}
