package leads

import (
	"fmt"
	"math"

	"phasewright/jobcard"
	"phasewright/quantity"
)

// Lead is what stands between a signal and the input.
type Lead struct {
	Signal
	Pieces int                 // equal resistors in series on the signal's side
	Top    quantity.Resistance // each of them, E12
	Bottom quantity.Resistance // from the input to ground, E24; 0: none, the input's own does
	Diodes int                 // of the clamp, in series each way

	LowIn, HighIn quantity.Voltage // left at the input of the signal's least and greatest peak
	Clamped       quantity.Voltage // and at the most, held by the clamp
	Current       quantity.Current // through the clamp then
	EachPower     quantity.Power   // in each resistor then, if it lasts
	EachVolts     quantity.Voltage
	Diode         quantity.Power // in each diode
	Load          float64        // share of the signal that the lead takes

	Upper      float64 // Hz where lead and input have lost 3 dB
	Transition quantity.Time
	Delay      quantity.Time  // that an edge comes late by, at its middle
	Late       quantity.Crank // the same at the redline
	Droop      float64        // share of a level that the input has lost by the next edge, on the starter

	Scope Scope
	Fails string // why no lead is given; "" where one is
}

// Scope is how a scope is clipped to the same signal.
type Scope struct {
	Ratio int              // of the probe
	Rated quantity.Voltage // that probe and input together must be rated for
	Low   quantity.Voltage // at the scope's input
	High  quantity.Voltage
	Delay quantity.Time // of an edge, by the source's resistance and the probe
}

// Make works out the lead of every signal of a card.
func Make(c *jobcard.Card, in Input) ([]Lead, error) {
	if err := in.Check(); err != nil {
		return nil, err
	}
	var out []Lead
	for _, s := range Signals(c) {
		l := of(s, in)
		l.Late = quantity.Crank(c.Engine.Redline.DegreesPerSecond() * l.Delay.Seconds())
		if in.Lower > 0 {
			wait := c.Engine.CrankingSpeed.TimeFor(c.Spacing()).Seconds()
			l.Droop = 1 - math.Exp(-2*math.Pi*in.Lower*wait)
		}
		out = append(out, l)
	}
	return out, nil
}

// of chooses the parts of one lead. The resistors on the signal's side are as few as their ratings let, then as small
// as ratings, clamp and load let; the one at the input brings the greatest signal to a share of full scale.
func of(s Signal, in Input) Lead {
	l := Lead{Signal: s, Scope: scopeOf(s)}
	goal := shareOfScale * in.FullScale
	l.Diodes = max(int(math.Ceil(float64(goal/calmVolts)-1e-9)), 1)
	least := max(s.Own*(1-mostLoad)/mostLoad, quantity.Resistance(float64(s.Most)/float64(mostOnDiode)))
	for l.Pieces = 1; s.Most/quantity.Voltage(l.Pieces) > ratedVolts; l.Pieces++ {
	}
	n := quantity.Resistance(l.Pieces)
	share := float64(s.Most) / float64(l.Pieces)
	l.Top = E12.Least(max(least/n, quantity.Resistance(share*share/(derated*float64(ratedPower)))))
	top := n * l.Top
	foot := in.Impedance
	high := s.High
	if s.Bipolar { // the tops are cut: what counts is the least signal
		high = min(high, s.Low*bipolarRoom)
	}
	if wanted := top * quantity.Resistance(goal/(high-goal)); high > goal && wanted < in.Impedance {
		l.Bottom = E24.Most(1 / (1/wanted - 1/in.Impedance))
		foot = 1 / (1/l.Bottom + 1/in.Impedance)
	}
	ratio := quantity.Voltage(foot / (foot + top + s.Own))
	l.LowIn, l.HighIn = s.Low*ratio, s.High*ratio
	l.Clamped, l.Current = l.clamp(s.Most, top+s.Own, foot)
	l.HighIn = min(l.HighIn, l.Clamped)
	if through := float64(s.Most-l.Clamped) / float64(top+s.Own); through > 0 {
		l.EachPower = quantity.Power(through * through * float64(l.Top))
		l.EachVolts = quantity.Voltage(through * float64(l.Top))
	}
	l.Diode = quantity.Power(float64(l.Clamped) * float64(l.Current) / float64(l.Diodes))
	l.Load = float64(s.Own / (s.Own + top + foot))
	behind := 1 / (1/(top+s.Own) + 1/foot) // what the input's capacitance is charged through
	tau := float64(behind) * float64(leadAndInput) * 1e6
	l.Upper = 1e6 / (2 * math.Pi * tau)
	l.Transition, l.Delay = quantity.Time(tau*math.Log(9)), quantity.Time(tau*math.Ln2)
	if l.Clamped > in.Stands {
		l.Fails = fmt.Sprintf("the clamp holds %v. The input stands only %v. Take an input with a smaller full "+
			"scale, or one that stands more", l.Clamped, in.Stands)
	}
	return l
}

// bipolarRoom is how many times the least signal of a bipolar pickup is brought to the goal: the rest is cut, which
// leaves its zero crossings where they are.
const bipolarRoom = 10

// clamp is the voltage at the input when v stands before a resistance from, with foot to ground and the diodes in
// parallel: Shockley's law n·(slope·ln(1 + i/leak) + r·i), solved by halving.
func (l *Lead) clamp(v quantity.Voltage, from, foot quantity.Resistance) (quantity.Voltage, quantity.Current) {
	n := float64(l.Diodes)
	diodes := func(i float64) float64 {
		return n * (float64(diodeSlope)*math.Log1p(i/float64(diodeLeak)) + float64(diodeOhms)*i)
	}
	low, high := 0.0, float64(v)/float64(from)
	for range 80 {
		i := (low + high) / 2
		u := diodes(i)
		if u/float64(foot)+i+(u-float64(v))/float64(from) > 0 {
			high = i
		} else {
			low = i
		}
	}
	return quantity.Voltage(diodes(low)), quantity.Current(low)
}

// scopeOf takes the smallest ratio whose probe stands the most that may come.
func scopeOf(s Signal) Scope {
	out := Scope{Ratio: 1, Rated: s.Most}
	switch {
	case s.Most > probe10:
		out.Ratio = 100
	case s.Most > scopeInput:
		out.Ratio = 10
	}
	by := quantity.Voltage(out.Ratio)
	out.Low, out.High = s.Low/by, s.High/by
	out.Delay = quantity.Time(float64(s.Own) * float64(probeLoad) * 1e6 * math.Ln2)
	return out
}
