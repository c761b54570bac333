package report

import (
	"fmt"
	"math"
	"strings"

	"phasewright/quantity"
	"phasewright/shaft"
	"phasewright/sheet"
)

// What each chart shows, in a sentence, for whoever hears the page: its first and last figure, or what stands out.

// asideWords is an angle with the side that it lies on: "0.3° late". Early is above nought, crank degrees.
func asideWords(deg float64) string {
	size := quantity.Degrees(math.Abs(deg), 1)
	switch {
	case size == quantity.Degrees(0.0, 1):
		return "on time"
	case deg > 0:
		return size + " early"
	}
	return size + " late"
}

func rpmWords(rpm float64) string { return quantity.Number(rpm, 0) + "\u2009rpm" }

// timingFinding is how timing runs over speed: the error where it is known, else where the spark stands after its edge.
func timingFinding(points []shaft.SpeedPoint, absolute bool) string {
	first, last := points[0], points[len(points)-1]
	if absolute {
		return fmt.Sprintf("%s at %s, %s at %s.", asideWords(float64(first.Error)), rpmWords(first.RPM),
			asideWords(float64(last.Error)), rpmWords(last.RPM))
	}
	return fmt.Sprintf("The spark comes %s after its edge at %s, %s at %s.", quantity.Degrees(first.AfterEdge, 1),
		rpmWords(first.RPM), quantity.Degrees(last.AfterEdge, 1), rpmWords(last.RPM))
}

// cylindersFinding names the cylinder that lies farthest from the mean of all.
func cylindersFinding(list []shaft.CylinderSpread) string {
	if len(list) == 0 {
		return "No spark is told to a cylinder."
	}
	far := list[0]
	for _, c := range list[1:] {
		if math.Abs(c.Mean) > math.Abs(far.Mean) {
			far = c
		}
	}
	return fmt.Sprintf("Cylinder %d is farthest from the mean of all: %s.", far.Cylinder, asideWords(far.Mean))
}

// speedFinding is the range of speed, and how long it was recorded.
func speedFinding(r *shaft.Result) string {
	low, high := math.Inf(1), 0.0
	for _, p := range r.Series.Speed {
		low, high = math.Min(low, p.Min), math.Max(high, p.Max)
	}
	return fmt.Sprintf("From %s to %s in %s\u2009s.", quantity.Number(low, 0), rpmWords(high),
		quantity.Number(r.DurationS, 1))
}

// cycleFinding counts what stands in one cycle, by signal.
func cycleFinding(r *shaft.Result) string {
	n := map[shaft.Role]int{}
	for _, p := range r.Series.Cycle {
		n[p.Role]++
	}
	return fmt.Sprintf("In two turns of the crankshaft: crank edges %d, cam edges %d, sparks %d, marks %d.",
		n[shaft.Crank], n[shaft.Cam], n[shaft.Spark], n[shaft.Mark])
}

// sparkFinding names what fails, from which speed to which; else what has least in hand.
func sparkFinding(d sheet.Decision) string {
	text := ""
	for _, c := range d.Causes {
		if c.Fails {
			text += fmt.Sprintf(" From %s to %s: %s.", quantity.Number(float64(c.From), 0), rpmWords(float64(c.To)),
				c.Name())
		}
	}
	if text == "" && len(d.Causes) > 0 {
		last := d.Causes[len(d.Causes)-1]
		return fmt.Sprintf("Nothing fails up to %s; %s.", rpmWords(float64(last.To)), last.Name())
	}
	return strings.TrimPrefix(text, " ")
}
