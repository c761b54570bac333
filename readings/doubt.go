package readings

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"phasewright/engine"
	"phasewright/quantity"
)

// Limits bound what a light may be expected to show on the engine of a card. Outside them a reading is asked back
// before it counts. The zero value knows none, and nothing is asked.
type Limits struct {
	// Least and Most are the advances that the card commands anywhere.
	Least, Most quantity.Crank
	// Reach is how far beyond them one fault takes the light: the other edge of the vane, or one tooth of the gear.
	Reach quantity.Crank
}

func (l Limits) known() bool { return l.Reach > 0 }

// What is asked back.
const (
	// slowestStarter: a starter turns an engine at 60 to 300 rpm (common practice); two thirds of the least is a
	// slip of the pen or a tachometer that counts wrongly.
	slowestStarter quantity.Speed = 40
	// overRedline is how far above the redline an engine may have been run for a reading: a tenth. Beyond, the light
	// counts twice or a digit is wrong.
	overRedline = 1.1
	// sameSpeed is how near two speeds lie that count as the same, as a share: an engine held by hand and a tachometer
	// leave about that much (common practice).
	sameSpeed = 0.03
	// apartTimes is how many standard uncertainties of their difference two readings at one speed may lie apart: by
	// luck more than three are seen once in 370 pairs (normal distribution).
	apartTimes = 3
	// nearTwice is how near to twice the commanded advance a reading must lie to be asked about, crank degrees.
	nearTwice = 1.0
	// nearPlace is how near a reading must lie to one read against another cylinder's mark, crank degrees: as far as
	// an engine that was phased at all lies from its command. Less where the firing intervals are small.
	nearPlace = 15.0
)

// Doubt is why a reading is asked back: a figure that is likelier mistyped, miscounted or read against another mark
// than shown.
type Doubt struct {
	Row     int    `json:"row"` // from 1, the header not counted
	Column  string `json:"column"`
	Because string `json:"because"`
	// Remedy says what to write instead, beside confirming it.
	Remedy string `json:"remedy"`
	// Counts: the reader confirmed it. What cannot be at all, such as a cylinder that the engine does not have, never
	// counts.
	Counts     bool `json:"counts"`
	impossible bool
}

// CanBe says whether the reader may confirm it.
func (d Doubt) CanBe() bool { return !d.impossible }

// answer says what to do about a reading that is asked back.
func (d Doubt) answer() string {
	if d.impossible {
		return "Mend it: " + d.Remedy
	}
	return "Mend it (" + d.Remedy + "). Or put yes under confirmed, where the light did show it"
}

// Doubts gives the readings that are asked back, by row, and that were and are confirmed.
func (s Settings) Doubts(rows []Row) []Doubt {
	if !s.Limits.known() {
		return nil
	}
	var out []Doubt
	var repeated []int // the rows that nothing else is asked of
	named := map[int]bool{}
	for i := range rows {
		d := s.doubt(rows[i])
		if d == nil || rows[i].Confirmed {
			repeated = append(repeated, i)
		}
		if d != nil {
			d.Row, named[i+1] = i+1, true
			d.Counts = rows[i].Confirmed && d.CanBe()
			out = append(out, *d)
		}
	}
	for _, d := range s.unlikeRepeats(rows, repeated) {
		if !named[d.Row] {
			out = append(out, d)
		}
	}
	slices.SortFunc(out, func(a, b Doubt) int { return cmp.Compare(a.Row, b.Row) })
	return out
}

// Ask gives what is asked of one more reading; nil where nothing is.
func (s Settings) Ask(before []Row, one Row) *Doubt {
	rows := append(before[:len(before):len(before)], one)
	for _, d := range s.Doubts(rows) {
		if d.Row == len(rows) && !d.Counts {
			return &d
		}
	}
	return nil
}

// Counted gives the rows that count: those that nothing is asked of, and those confirmed.
func (s Settings) Counted(rows []Row) []Row {
	asked := notCounted(s.Doubts(rows))
	if len(asked) == 0 {
		return rows
	}
	var out []Row
	for i, r := range rows {
		if !asked[i+1] {
			out = append(out, r)
		}
	}
	return out
}

// notCounted are the rows that wait for an answer.
func notCounted(doubts []Doubt) map[int]bool {
	asked := map[int]bool{}
	for _, d := range doubts {
		if !d.Counts {
			asked[d.Row] = true
		}
	}
	return asked
}

// doubt asks what one reading shows by itself.
func (s Settings) doubt(r Row) *Doubt {
	k := r.Cylinder()
	if n := len(s.Places); n > 0 && k > n {
		return &Doubt{Column: "wire", Because: fmt.Sprintf("the engine has no cylinder %d", k),
			Remedy: fmt.Sprintf("write 1 to %d", n), impossible: true}
	}
	slowest := slowestStarter
	if s.Cranking > 0 {
		slowest = min(slowest, s.Cranking*2/3)
	}
	switch {
	case r.Speed > overRedline*s.Redline:
		return &Doubt{Column: "rpm", Because: fmt.Sprintf("%s is far above the redline of %s", rpm(float64(r.Speed)),
			rpm(float64(s.Redline))), Remedy: "look at the digits. A tachometer that counts two sparks shows double"}
	case r.Speed < slowest:
		return &Doubt{Column: "rpm", Because: fmt.Sprintf("%s is slower than a starter turns", rpm(float64(r.Speed))),
			Remedy: "look at the digits. Write whole rpm"}
	}
	if place := s.place(k); place != 0 && s.readAtNo1(r, place) {
		return &Doubt{Column: "shown_deg", Because: fmt.Sprintf("%s on the wire of cylinder %d is what No. 1's "+
			"zero mark would show. Its own top dead centre lies %s after that", quantity.Degrees(r.Shown, 1), k,
			quantity.Degrees(math.Mod(float64(place)+360, 360), 1)),
			Remedy: fmt.Sprintf("count from the cylinder's own top dead centre: write %s. If it was read so, check "+
				"the wires against the map", quantity.Degrees(wrap(float64(r.Shown+place)), 1))}
	}
	low := min(s.Limits.Least, r.Locked) - s.Limits.Reach
	high := max(s.Limits.Most, r.Locked) + s.Limits.Reach
	if r.Shown < low || r.Shown > high {
		return &Doubt{Column: "shown_deg", Because: fmt.Sprintf("%s lies outside %s to %s. That is what the card "+
			"commands, and a tooth or a vane beyond it", quantity.Degrees(r.Shown, 1), quantity.Degrees(low, 0),
			quantity.Degrees(high, 0)), Remedy: "look at the digits and the sign. Before top dead centre is " +
			"positive"}
	}
	if twice := 2 * r.Locked; r.Locked > 2*PhasingLeaves && math.Abs(float64(r.Shown-twice)) <= nearTwice {
		return &Doubt{Column: "shown_deg", Because: fmt.Sprintf("%s is about twice the commanded %s. The light may "+
			"count two sparks", quantity.Degrees(r.Shown, 1), quantity.Degrees(r.Locked, 1)),
			Remedy: "set the light for two sparks a cycle, or read the marks without its dial"}
	}
	return nil
}

// place is how far a cylinder's top dead centre lies after that of cylinder 1 on the damper, from −180 to 180; 0
// where the two share a mark, or where no card told.
func (s Settings) place(cylinder int) quantity.Crank {
	if cylinder > len(s.Places) {
		return 0
	}
	if p := wrap(float64(s.Places[cylinder-1])); math.Abs(p) > 0.5 {
		return quantity.Crank(p)
	}
	return 0
}

// readAtNo1 says whether a reading looks like one against the zero mark of cylinder 1. A spark a degrees before the top
// dead centre of a cylinder that comes p after that of No. 1 shows as a − p there.
func (s Settings) readAtNo1(r Row, place quantity.Crank) bool {
	near := nearPlace
	for c := range s.Places {
		if p := math.Abs(float64(s.place(c + 1))); p > 0 {
			near = math.Min(near, p/4)
		}
	}
	return math.Abs(wrap(float64(r.Shown+place-r.Locked))) <= near
}

// wrap takes an angle to −180…180.
func wrap(a float64) float64 { return math.Remainder(a, 360) }

// likeReading is what readings share that must show the same at the same speed.
type likeReading struct {
	wire      int
	allowance quantity.Time
	housing   quantity.Shaft
	locked    quantity.Crank
}

// unlikeRepeats asks about readings that differ from others at the same speed by more than eye and light explain: the
// later of two, or of several those far from the middle one.
func (s Settings) unlikeRepeats(rows []Row, of []int) []Doubt {
	groups := map[likeReading][]int{}
	for _, i := range of {
		r := &rows[i]
		if r.Speed < s.crankingBelow() {
			continue // the crank's own swing is larger
		}
		key := likeReading{r.Cylinder(), s.AllowanceNow, r.Housing, r.Locked}
		if r.AllowanceStated {
			key.allowance = r.Allowance
		}
		groups[key] = append(groups[key], i)
	}
	step := float64(s.Resolution)
	if step == 0 {
		step = writtenStep(rows)
	}
	u := func(i int) float64 {
		return math.Hypot(float64(cmp.Or(rows[i].U, s.ReadingU, assumedU)), step/math.Sqrt(12))
	}
	var out []Doubt
	for _, group := range groups {
		slices.SortFunc(group, func(a, b int) int {
			return cmp.Or(cmp.Compare(rows[a].Speed, rows[b].Speed), cmp.Compare(a, b))
		})
		for len(group) > 0 {
			end := 1
			for end < len(group) && rows[group[end]].Speed <= (1+sameSpeed)*rows[group[0]].Speed {
				end++
			}
			same := slices.Clone(group[:end])
			group = group[end:]
			middle := middleReading(rows, same)
			for _, i := range same {
				apart := math.Abs(float64(rows[i].Shown - rows[middle].Shown))
				allowed := apartTimes * math.Hypot(u(i), u(middle))
				if apart <= allowed {
					continue
				}
				out = append(out, Doubt{Row: i + 1, Column: "shown_deg", Counts: rows[i].Confirmed,
					Because: fmt.Sprintf("%s at %s is %s away from row %d at the same speed. Eye and light leave "+
						"%s at most (%d times the %s of one from the other)", quantity.Degrees(rows[i].Shown, 1),
						rpm(float64(rows[i].Speed)), quantity.Degrees(apart, 1), middle+1,
						quantity.Degrees(allowed, 1), apartTimes, quantity.Degrees(allowed/apartTimes, 2)),
					Remedy: "read that speed once more"})
			}
		}
	}
	return out
}

// middleReading is the reading in the middle of those at one speed; the earlier of two.
func middleReading(rows []Row, same []int) int {
	if len(same) == 2 {
		return min(same[0], same[1])
	}
	slices.SortFunc(same, func(a, b int) int {
		return cmp.Or(cmp.Compare(rows[a].Shown, rows[b].Shown), cmp.Compare(a, b))
	})
	return same[(len(same)-1)/2]
}

// reach is the larger of what the other edge of a vane and what one tooth of the gear move the timing by.
func (s Steps) reach() quantity.Crank {
	widest := s.Tooth
	for _, vane := range s.Vanes {
		widest = math.Max(widest, vane)
	}
	return quantity.Crank(widest)
}

// limitsOf are the limits of a card's engine. The unknown tooth and vane of a card that states neither leave as much as
// a firing interval.
func limitsOf(commands []quantity.Crank, steps Steps) Limits {
	reach := steps.reach()
	if reach == 0 {
		reach = engine.CycleDegrees / 4
	}
	return Limits{Least: slices.Min(commands), Most: slices.Max(commands), Reach: reach}
}
