package coil

import (
	"encoding/csv"
	"io"
	"math"
	"strconv"

	"phasewright/quantity"
)

// DwellRow is one line of the dwell table: what dwell a supply needs.
type DwellRow struct {
	Supply quantity.Voltage
	Dwell  quantity.Time    // to Target, or to Reaches where the target is out of reach
	Final  quantity.Current // what the charge creeps up to
	// Reaches is the current at the end of Dwell: the target, or nine tenths of Final where the target is not reached
	// before that. Beyond nine tenths more dwell buys heat and little current.
	Reaches quantity.Current
	Target  bool // the target is reached
	Stored  quantity.Energy
	Beyond  bool // the current lies above what the iron's data reach
}

// DwellCurve is the dwell that a controller holds against supply. nil: none is known.
type DwellCurve func(supply quantity.Voltage) quantity.Time

// nearEnough is the share of the final current that a dwell table still goes for: the last tenth takes as long as the
// first two thirds and more.
const nearEnough = 0.9

// DwellTable is the dwell needed with a hot winding at each supply, to fill a controller's table from.
func (p Primary) DwellTable(supplies []quantity.Voltage) []DwellRow {
	rows := make([]DwellRow, len(supplies))
	for k, v := range supplies {
		rows[k] = p.dwellAt(p.Hot(v), v)
	}
	return rows
}

// Supplies6To16 are the supplies 6, 6.5 … 16 V that dwell tables are made for.
func Supplies6To16() []quantity.Voltage {
	var out []quantity.Voltage
	for v := 6.0; v <= 16; v += 0.5 {
		out = append(out, quantity.Voltage(v))
	}
	return out
}

func (p Primary) dwellAt(c Circuit, supply quantity.Voltage) DwellRow {
	row := DwellRow{Supply: supply, Final: c.Final(), Reaches: p.Target, Target: true}
	if p.Target >= c.Final() {
		row.Reaches, row.Target = nearEnough*c.Final(), false
	}
	row.Dwell = c.TimeTo(row.Reaches)
	row.Stored = p.Iron.Stored(row.Reaches)
	row.Beyond = row.Reaches > p.Iron.Known()
	return row
}

// GoalAt is the current that a dwell table goes for at a supply, and the dwell to it with a hot winding: the target, or
// nine tenths of the final current where that is less.
func (p Primary) GoalAt(supply quantity.Voltage) (quantity.Current, quantity.Time) {
	hot := p.Hot(supply)
	goal := min(p.Target, nearEnough*hot.Final())
	return goal, hot.TimeTo(goal)
}

// WriteDwell writes the table as CSV (RFC 4180): supply_v, dwell_us, current_a, target_reached, final_a, stored_mj,
// note.
func WriteDwell(w io.Writer, rows []DwellRow) error {
	out := csv.NewWriter(w)
	out.UseCRLF = true
	number := func(v float64, decimals int) string { return strconv.FormatFloat(v, 'f', decimals, 64) }
	lines := [][]string{{"supply_v", "dwell_us", "current_a", "target_reached", "final_a", "stored_mj", "note"}}
	for _, r := range rows {
		note := ""
		switch {
		case !r.Target:
			note = "target not reached at this supply; dwell to nine tenths of the final current"
		case r.Beyond:
			note = "current above the measured range of the coil"
		}
		lines = append(lines, []string{number(float64(r.Supply), 2), number(r.Dwell.Microseconds(), 0),
			number(float64(r.Reaches), 3),
			map[bool]string{true: "yes", false: "no"}[r.Target], number(float64(r.Final), 3),
			number(1e3*float64(r.Stored), 2), note})
	}
	if err := out.WriteAll(lines); err != nil {
		return err
	}
	return out.Error()
}

// Load is what a dwell does to the coil and its driver at a speed, averaged over time.
type Load struct {
	State
	Applied quantity.Time    // what fits of the dwell asked for
	Mean    quantity.Current // drawn by one coil, mean over time
	Copper  quantity.Power   // I²R·duty in the winding, by ∫ i² dt
	Lost    Band[quantity.Power]
	Driver  quantity.Power // drop × mean current
	Duty    float64        // share of time that current is on
}

// Heat is all that stays in the coil: copper heat and the stored energy that does not reach the secondary. A band, as
// the share kept is one.
func (l Load) Heat() Band[quantity.Power] {
	return Exactly(l.Copper).Plus(l.Lost)
}

// LoadAt is the load at speed n when a dwell is asked for and the shorter of it and what fits is given. The winding is
// as in c.
func (p Primary) LoadAt(c Circuit, s Share, n quantity.Speed, dwell quantity.Time) Load {
	applied := min(dwell, s.Fits(n, p.OffTime))
	return p.loadOf(c, s, n, c.After(applied))
}

func (p Primary) loadOf(c Circuit, s Share, n quantity.Speed, st State) Load {
	rate := s.PerSecond(n)
	winding := float64((c.Resistance - p.Wiring) / c.Resistance) // the winding's part of all that turns to heat
	lost := func(kept float64) quantity.Power { return quantity.Power(rate * (1 - kept) * float64(st.Stored)) }
	mean := quantity.Current(rate * st.Passed)
	return Load{
		State: st, Applied: st.Dwell, Mean: mean,
		Copper: quantity.Power(rate * float64(st.Heat) * winding),
		Lost:   Band[quantity.Power]{lost(p.Kept.High), lost(p.Kept.Low)},
		Driver: quantity.Power(float64(p.DriverDrop) * float64(mean)),
		Duty:   rate * st.Dwell.Seconds(),
	}
}

// Reach says up to which speeds a dwell does its work at one supply.
type Reach struct {
	Needed quantity.Time  // dwell to the target; +Inf where this supply never reaches it
	Full   quantity.Speed // up to here Needed fits beside the off time; 0 where it never does
	// Cooks is the speed from which the copper heat passes the limit when the dwell asked for is held; +Inf where it
	// never does: past the speed at which the dwell no longer fits the heat falls again. Also +Inf where no limit is
	// stated.
	Cooks quantity.Speed
}

// ReachAt finds both speeds for a circuit of p when dwell is asked for (the needed dwell where dwell is 0).
func (p Primary) ReachAt(c Circuit, s Share, dwell quantity.Time) Reach {
	r := Reach{Needed: c.TimeTo(p.Target), Cooks: quantity.Speed(math.Inf(1))}
	if !math.IsInf(float64(r.Needed), 1) {
		r.Full = s.SpeedFor(r.Needed, p.OffTime)
	}
	if dwell <= 0 {
		dwell = r.Needed
		if math.IsInf(float64(dwell), 1) {
			dwell = p.dwellAt(c, 0).Dwell
		}
	}
	if p.HeatLimit > 0 && dwell > 0 {
		perSpark := float64(p.loadOf(c, s, 60, c.After(dwell)).Copper) / s.PerSecond(60)
		rate := float64(p.HeatLimit) / perSpark // sparks a second
		n := quantity.Speed(rate * float64(s.Mean) / 6)
		if n <= s.SpeedFor(dwell, p.OffTime) {
			r.Cooks = n
		}
	}
	return r
}
