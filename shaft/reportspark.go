package shaft

import (
	"fmt"
	"math"

	"phasewright/quantity"
	"phasewright/shaft/terms"
)

const mostScatter = 1.5 // degrees; the sparks of a sound drive have a smaller standard deviation (assumed)

func (s *observer) reportSpark(r *Result, out *terms.Findings) {
	f, l := &s.fired, s.l
	pulse := l.Spark[l.Assigned.Sparks[0]]
	q := &SparkResult{Count: f.total, DwellMS: nan, DwellMin: nan, DwellMax: nan, DwellSD: nan,
		ByCylinder: []CylinderResult{},
		Placed:     f.placed, Adrift: f.adrift, ScatterSD: nan, TimedSD: nan, AtLeast: pulse.Ramp}
	r.Spark = q
	q.AfterEdge = f.after()
	q.SparkAt = fmt.Sprintf("%s edge: %s", terms.EdgeName(pulse.Rising), pulse.By)
	if pulse.Driver && f.dwell.n > 0 {
		mean, sd := f.dwell.usual()
		q.DwellMS, q.DwellMin, q.DwellMax, q.DwellSD = Number(mean), Number(f.dwell.lo), Number(f.dwell.hi), Number(sd)
	}
	var pooled, count, shown, seenN float64
	most := int64(0)
	for i := range f.vane {
		most = max(most, f.vane[i].all().count)
	}
	edges := s.vanes.edgeScatter()
	for i := range l.N {
		k := s.vane(i)
		v := &f.vane[k]
		pooled += v.scatter.Squares()
		count += float64(v.scatter.N)
		all := v.all()
		if all.count < (most+19)/20 || all.count == 0 || !s.cylindersKnown() {
			continue
		}
		spread := &s.spread.vane[k]
		c := CylinderResult{Cylinder: s.l.Cylinder(i), Count: all.count, AfterEdge: f.afterVane(k), Advance: nan,
			Error:   nan,
			TimedSD: Number(v.scatter.SD()), ScatterSD: Number(spread.sd(edges)), Scatter: spread.bins[:]}
		if sd := float64(c.ScatterSD); !math.IsNaN(sd) {
			n := float64(spread.off.N)
			shown += n * sd * sd
			seenN += n
		}
		if t := r.Timing; t != nil {
			c.Advance = Number(t.LeadAt(all.speed()) + all.advance())
			if t.Commanded && v.running.count > 0 {
				c.Error = Number(t.LeadAt(v.running.speed()) + v.running.err())
			}
		}
		q.ByCylinder = append(q.ByCylinder, c)
	}
	if count > 10 {
		q.TimedSD = Number(math.Sqrt(pooled / count))
		sd := float64(q.TimedSD)
		if seenN > 0 {
			q.ScatterSD = Number(math.Sqrt(shown / seenN))
			sd = math.Max(sd, float64(q.ScatterSD))
		}
		if sd > mostScatter {
			out.Find(FoundSparkSpread, l.Name(l.Assigned.Sparks[0]),
				"look for a worn drive, chain or bushing. Look for noise on the crank signal. See that the timing is "+
					"locked",
				"the sparks scatter by %s (standard deviation)", quantity.Degrees(sd, 1))
		}
	}
	if f.endedAt > 0 {
		out.Find(FoundSparksEnd, l.Name(l.Assigned.Sparks[0]), "fine if the ignition was switched off there",
			"the sparks end at %s while the crank turns on at %s", seconds(float64(f.ended)),
			rounded(float64(f.endedAt)))
	}
}

// after is the angle from the active edge to the spark over all firings.
func (f *firings) after() Spread {
	all := f.class[0].after
	for i := range f.class[1:] {
		all.Join(f.class[1+i].after)
	}
	return Spread{all.Mean(), all.SD()}
}

// afterVane is the same for the firings after vane k.
func (f *firings) afterVane(k int) Spread {
	all := f.grid[k][0]
	for _, g := range f.grid[k][1:] {
		all.Join(g)
	}
	return Spread{all.Mean(), all.SD()}
}
