package report

import (
	"fmt"
	"math"
	"strconv"

	"phasewright/drawing"
	"phasewright/quantity"
	"phasewright/shaft"
)

// The classes of a CylinderSpread's Bins, crank degrees.
const (
	binFrom = -4.05
	binWide = 0.1
)

// leastStrip is what strips show either way at least, crank degrees: a sound engine must look sound.
const leastStrip = 0.95

// cylindersView sets the cylinders' sparks against each other.
func cylindersView(r *shaft.Result) CaptureView {
	v := CaptureView{ID: "cylinders", Title: "Cylinder by cylinder"}
	list := r.Series.Firings
	if len(list) == 0 {
		switch {
		case r.Zero == shaft.ZeroSome:
			v.Want = wantCam
		case len(r.Spark.ByCylinder) > 0:
			v.Want = "This recording was read by an earlier release: read it again to see the " +
				"cylinders against each other."
		default:
			v.Want = "Too few sparks could be placed: record for longer."
		}
		return v
	}
	v.Heads = Cells{"cylinder", "sparks", "early (+) °", "sd °"}
	errors := map[int]shaft.Number{}
	if r.Spark != nil && r.Timing != nil && r.Timing.Commanded {
		for _, c := range r.Spark.ByCylinder {
			if known(c.Error) {
				errors[c.Cylinder] = c.Error
			}
		}
	}
	if len(errors) > 0 {
		v.Heads = append(v.Heads, "timing error °")
	}
	for _, c := range list {
		row := Cells{strconv.Itoa(c.Cylinder), quantity.Number(float64(c.Count), 0), drawing.Signed(c.Mean, 2),
			cell(c.SD, 2)}
		if len(errors) > 0 {
			e, ok := errors[c.Cylinder]
			if !ok {
				e = shaft.Number(math.NaN())
			}
			row = append(row, signedCell(e, 2))
		}
		v.Rows = append(v.Rows, row)
	}
	v.Reading = spreadReading(r)
	v.Draw = func(at Space) (*drawing.Drawing, error) {
		return CylinderStrips(r, at).Draw()
	}
	return v
}

func spreadReading(r *shaft.Result) string {
	list := r.Series.Firings
	text := "One strip a cylinder, in firing order. Vermilion: mean of its sparks against the mean of all; bar: one " +
		"standard deviation either way, "
	if len(list[0].Bins) > 0 {
		text += "on the shaft itself, so that a worn drive shows. Tinted: how the firings are spread; " +
			"fine line: the extremes."
	} else {
		text += "at one speed."
	}
	worst := 0
	for i, c := range list {
		if math.Abs(c.Mean) > math.Abs(list[worst].Mean) {
			worst = i
		}
	}
	if w := list[worst]; len(list) > 1 {
		side := "early"
		if w.Mean < 0 {
			side = "late"
		}
		text += fmt.Sprintf(" Cylinder %d stands farthest off: %s° %s.", w.Cylinder,
			quantity.Number(math.Abs(w.Mean), 2), side)
		if r.Crank != nil && worst < len(r.Crank.SpacingErrorDeg) && len(list) == len(r.Crank.SpacingErrorDeg) {
			if vane := r.Crank.SpacingErrorDeg[worst]; math.Abs(vane) >= 0.3 {
				side := "late"
				if vane < 0 {
					side = "early"
				}
				text += fmt.Sprintf(
					" Its vane edge comes %s° %s: look at wheel, bushing and drive before the controller.",
					quantity.Number(math.Abs(vane), 2), side)
			}
		}
	}
	if r.Crank != nil && known(r.Crank.ScatterDeg) {
		text += fmt.Sprintf(" The crank edges that the sparks follow scatter by %s° (sd).",
			spreadWords(float64(r.Crank.ScatterDeg)))
	}
	return text
}

// CylinderStrips is one strip a cylinder in firing order: where its sparks stand against the mean of all, early to the
// right.
func CylinderStrips(r *shaft.Result, at Space) drawing.Strips {
	list := r.Series.Firings
	s := drawing.Strips{Width: at.Width, Height: at.Height, Prefix: at.Prefix,
		Title: "Sparks of each cylinder against the mean of all", Desc: cylindersFinding(list),
		Label: "spark against the mean of all cylinders, crank °", Names: "cyl.",
		Heads: []string{"mean °", "sd °", "sparks"}, Ends: [2]string{"← late", "early →"}}
	top := leastStrip
	for _, c := range list {
		sd := 0.0
		if known(c.SD) {
			sd = float64(c.SD)
		}
		top = math.Max(top, math.Abs(c.Mean)+sd)
		row := drawing.Strip{ID: strconv.Itoa(c.Cylinder), Name: strconv.Itoa(c.Cylinder),
			Figures: []string{drawing.Signed(c.Mean, 2), cell(c.SD, 2), quantity.Number(float64(c.Count), 0)},
			Spread:  &drawing.Spread{Mean: c.Mean, SD: sd}}
		if lo, hi, ok := extremes(c.Bins); ok {
			row.Spread.Least, row.Spread.Most = lo, hi
			row.Bars = drawing.Histogram{From: binFrom, Step: binWide}
			for _, n := range c.Bins {
				row.Bars.Counts = append(row.Bars.Counts, float64(n))
			}
			top = math.Max(top, math.Max(math.Abs(lo), math.Abs(hi)))
		}
		s.Rows = append(s.Rows, row)
	}
	top = niceTop(1.05 * top)
	s.X = drawing.Axis{Min: -top, Max: top, Sign: drawing.PlusMinus}
	return s
}

// extremes are the ends of the outermost classes that hold a firing.
func extremes(bins []int64) (lo, hi float64, ok bool) {
	for i, n := range bins {
		if n == 0 {
			continue
		}
		if !ok {
			lo, ok = binFrom+float64(i)*binWide, true
		}
		hi = binFrom + float64(i+1)*binWide
	}
	return lo, hi, ok
}

// cylinderSpeedView is the same against speed; ok is false where the cylinders are not known at all.
func cylinderSpeedView(r *shaft.Result) (v CaptureView, ok bool) {
	list := r.Series.Firings
	if len(list) == 0 {
		return v, false
	}
	v = CaptureView{ID: "cylinder-speed", Title: "Cylinder by cylinder, against speed"}
	speeds := map[float64]int{}
	var order []float64
	for _, c := range list {
		for _, p := range c.BySpeed {
			if _, ok := speeds[p.RPM]; !ok {
				i := 0
				for i < len(order) && order[i] < p.RPM {
					i++
				}
				order = append(order[:i], append([]float64{p.RPM}, order[i:]...)...)
				speeds[p.RPM] = 0
			}
		}
	}
	if len(order) < 3 { // a speed that is held may fall into two classes
		v.Want = "One speed only: record a run from idle to the redline to see whether a cylinder moves, or its " +
			"scatter grows, with speed."
		return v, true
	}
	for i, n := range order {
		speeds[n] = i
		v.Rows = append(v.Rows, Cells{quantity.Number(n, 0)})
	}
	v.Heads = Cells{"rpm"}
	for k, c := range list {
		v.Heads = append(v.Heads, "cyl. "+strconv.Itoa(c.Cylinder)+" °")
		for _, p := range c.BySpeed {
			i := speeds[p.RPM]
			v.Rows[i] = append(v.Rows[i], drawing.Signed(p.Mean, 2)+" ± "+quantity.Number(p.SD, 2))
		}
		for i := range v.Rows {
			if len(v.Rows[i]) < k+2 {
				v.Rows[i] = append(v.Rows[i], "–")
			}
		}
	}
	v.Reading = "Vermilion: mean of the cylinder's sparks against the mean of all in each class of speed, early " +
		"upwards. Band: one standard deviation either way: a band that widens is scatter that grows with speed."
	v.Draw = func(at Space) (*drawing.Drawing, error) {
		return CylinderSpeedStrips(r, at).Draw()
	}
	return v, true
}

// CylinderSpeedStrips is one strip a cylinder over speed.
func CylinderSpeedStrips(r *shaft.Result, at Space) drawing.Strips {
	top, low, high := leastStrip, math.Inf(1), 0.0
	for _, c := range r.Series.Firings {
		for _, p := range c.BySpeed {
			top = math.Max(top, math.Abs(p.Mean)+p.SD)
			low, high = math.Min(low, p.RPM), math.Max(high, p.RPM)
		}
	}
	top = niceTop(1.05 * top)
	s := drawing.Strips{Width: at.Width, Height: at.Height, Prefix: at.Prefix,
		Title: "Sparks of each cylinder against the mean of all, over speed", Desc: cylindersFinding(r.Series.Firings),
		Label: "early upwards, late downwards; each strip ± " + degrees(top) + " high", Names: "cyl.",
		X: drawing.Axis{Label: "rpm", Min: low, Max: high}, Y: drawing.Axis{Min: -top, Max: top}}
	for _, c := range r.Series.Firings {
		row := drawing.Strip{ID: strconv.Itoa(c.Cylinder), Name: strconv.Itoa(c.Cylinder)}
		for _, p := range c.BySpeed {
			row.Line = append(row.Line, drawing.XY{X: p.RPM, Y: p.Mean})
			row.Band.X, row.Band.Lo, row.Band.Hi = append(row.Band.X, p.RPM), append(row.Band.Lo, p.Mean-p.SD),
				append(row.Band.Hi, p.Mean+p.SD)
		}
		if len(c.BySpeed) == 0 {
			row.Note = "too few firings at any speed"
		}
		s.Rows = append(s.Rows, row)
	}
	return s
}
