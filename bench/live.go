package bench

import (
	"math"

	"phasewright/cranking"
	"phasewright/engine"
	"phasewright/quantity"
)

// live is the crank under the torque balance with a starter that comes and goes, throttle and firing: the motion of a
// Session. It is carried on degree by degree as it is asked, and never beyond limit.
type live struct {
	light, heavy *cranking.Train // without and with the starter's armature
	line         cranking.Line
	engaged      bool
	limit        float64 // µs

	at     int     // whole degrees since the beginning, at the last node
	time   float64 // µs there
	energy float64 // J there; 0: stands
	rest   int     // degree at which it last stood, with its charges leaked out
	nodes  [ring]node
	wants  float64 // rad/s that the lever asks
	need   float64 // share of charge that holds that speed
	burns  []burn
	fire   *fire
	kicked bool    // thrown back since last asked
	warmth float64 // °C
}

const ring = 1 << 11 // nodes kept: five turns

// node is the crank at a whole degree.
type node struct{ time, rate float64 } // µs, °/µs

// burn is one charge burning.
type burn struct {
	tdc, spark int // degrees since the beginning
	load       float64
}

// fire holds what firing adds, as tables by degree of a cylinder's own cycle from −180 to 180.
type fire struct {
	push  [361]float64 // torque of the motored pressure, N·m: what burning multiplies
	burnt [burnLasts + 1]float64
	rise  float64 // pressure over the motored one when all is burnt at full charge; assumed
	best  float64 // work of a full charge at the best spark, J
}

const burnLasts = 60 // degrees from the spark until all is burnt; assumed

func newFire(e Engine) *fire {
	f := &fire{rise: 2.6}
	closes, opens := -180+e.InletCloses, 180-e.ExhaustOpens
	for i := range f.push {
		if a := quantity.Crank(i - 180); a > closes && a < opens {
			f.push[i] = float64(e.GasTorque(engine.At(a), 0))
		}
	}
	for i := range f.burnt { // a smooth S (half cosine) in place of the usual burn law
		f.burnt[i] = 0.5 * (1 - math.Cos(math.Pi*float64(i)/burnLasts))
	}
	for spark := -60; spark <= 0; spark++ {
		f.best = max(f.best, f.work(spark))
	}
	return f
}

// work is what a full charge lit at a degree adds over the cycle, J.
func (f *fire) work(spark int) float64 {
	sum := 0.0
	for a := spark; a < 180; a++ {
		if a >= -180 {
			sum += f.rise * f.burnt[min(a-spark, burnLasts)] * f.push[a+180] * degree
		}
	}
	return sum
}

func newLive(c Config, turn *cranking.Turning, at int) *live {
	m := &live{light: cranking.NewTrain(c.Engine.Engine, 0),
		heavy: cranking.NewTrain(c.Engine.Engine, c.Starter.Reflected), fire: newFire(c.Engine), at: at, rest: at,
		warmth: 15}
	if turn != nil {
		m.line = turn.Line()
	}
	m.nodes[at&(ring-1)] = node{}
	return m
}

// lever sets the speed that the throttle asks for: the charge that balances friction and gas loss there, with more
// below it and less above.
func (m *live) lever(rpm float64, cylinders int) {
	m.wants = rpm * math.Pi / 30
	t := m.light
	lost := t.Friction(m.wants) * 4 * math.Pi
	for i := range engine.CycleDegrees {
		lost -= t.Gas[i%t.Period]
	}
	m.need = lost / (float64(cylinders) * m.fire.best)
}

// charge is the share of a full charge that a cylinder gets at speed w: air past a throttle falls with speed, an engine
// near standstill gets enough to start.
func (m *live) charge(w float64) float64 {
	x := m.wants / max(w, 0.3*m.wants)
	return min(max(m.need*x*x*x, 0), 1)
}

// ignite lets the charge whose TDC is at degree tdc burn from degree spark on, at the crank speed w in rad/s. A charge
// burns once.
func (m *live) ignite(tdc, spark int, w float64) {
	for _, b := range m.burns {
		if b.tdc == tdc {
			return // burnt already
		}
	}
	m.burns = append(m.burns, burn{tdc, spark, m.charge(w)})
}

// on is the crank train as it is now: with the starter's armature while that is engaged.
func (m *live) on() *cranking.Train {
	if m.engaged {
		return m.heavy
	}
	return m.light
}

// extend carries the motion on by one degree; false where the crank stands or the limit is reached.
func (m *live) extend() bool {
	if m.time >= m.limit {
		return false
	}
	t := m.on()
	line := cranking.Line{}
	if m.engaged {
		line = m.line
	}
	i := m.at % t.Period
	if i < 0 {
		i += t.Period
	}
	extra := 0.0
	if leaked := m.at - m.rest; leaked < 540 {
		// charges that stood leak out: their compression comes back over a turn and a half
		extra = t.Gas[i] * (float64(leaked)/540 - 1)
	}
	keep := m.burns[:0]
	for _, b := range m.burns {
		a := m.at - b.tdc
		if a < 180 {
			keep = append(keep, b)
		}
		if a >= -180 && a < 180 && m.at >= b.spark {
			extra += b.load * m.fire.rise * m.fire.burnt[min(m.at-b.spark, burnLasts)] * m.fire.push[a+180] * degree
		}
	}
	m.burns = keep
	end, from, to, _, _ := t.Step(i, m.energy, line, extra)
	if end <= 0 || from+to <= 0 {
		if m.energy > 0 {
			for _, b := range m.burns {
				m.kicked = m.kicked || m.at < b.tdc && m.at >= b.spark
			}
			m.burns = m.burns[:0]
		}
		m.energy, m.rest = 0, m.at
		m.nodes[m.at&(ring-1)].rate = 0
		return false
	}
	const perSecond = 180e-6 / math.Pi // rad/s to °/µs
	m.nodes[m.at&(ring-1)].rate = from * perSecond
	m.at++
	m.time += 2 * degree / (from + to) * 1e6
	m.energy = end
	m.nodes[m.at&(ring-1)] = node{m.time, to * perSecond}
	return true
}

// wait lets the time pass for a crank that stands.
func (m *live) wait(time float64) {
	if m.energy == 0 && time > m.time {
		m.time = time
		m.nodes[m.at&(ring-1)].time = time
	}
}

func (m *live) when(angle float64) float64 {
	for float64(m.at) < angle {
		if !m.extend() {
			return math.Inf(1)
		}
	}
	i := int(math.Floor(angle))
	if m.at-i >= ring-1 {
		i = m.at - ring + 2
	}
	a := m.nodes[i&(ring-1)]
	x := angle - float64(i)
	if x <= 0 {
		return a.time
	}
	b := m.nodes[(i+1)&(ring-1)]
	w := math.Sqrt(max(a.rate*a.rate+(b.rate*b.rate-a.rate*a.rate)*x, 0))
	return min(a.time+2*x/(a.rate+w), b.time)
}

// before is the last node at or before a time, µs; the motion is carried on as far as needed.
func (m *live) before(time float64) int {
	for m.time < time && m.extend() {
	}
	low, high := m.at-ring+2, m.at
	if m.nodes[high&(ring-1)].time <= time {
		return high
	}
	for high-low > 1 {
		mid := (low + high) / 2
		if m.nodes[mid&(ring-1)].time <= time {
			low = mid
		} else {
			high = mid
		}
	}
	return low
}

func (m *live) where(time float64) float64 {
	i := m.before(time)
	if i == m.at {
		return float64(i)
	}
	a, b := m.nodes[i&(ring-1)], m.nodes[(i+1)&(ring-1)]
	dt := time - a.time
	grow := (b.rate*b.rate - a.rate*a.rate) / 2
	return float64(i) + min(max(dt*(a.rate+grow*dt/2), 0), 1)
}

func (m *live) speed(time float64) float64 {
	i := m.before(time)
	a := m.nodes[i&(ring-1)]
	if i == m.at {
		return a.rate
	}
	b := m.nodes[(i+1)&(ring-1)]
	return a.rate + (b.rate-a.rate)*min(max((time-a.time)/(b.time-a.time), 0), 1)
}
