package stand

import (
	"fmt"
	"slices"
)

// duration is from the first change on any wire to the last.
func duration(wires []wire) (from, to float64) {
	from, to = 1e300, -1e300
	for _, w := range wires {
		if len(w.flips) > 0 {
			from, to = min(from, slices.Min(w.flips)), max(to, slices.Max(w.flips))
		}
	}
	return from, to
}

// spikes adds pulses of 0.2 to 30 µs at any time on any wire, a second and wire that many.
func spikes(rate float64) func(chance, []wire, []float64) []wire {
	return func(r chance, wires []wire, _ []float64) []wire {
		from, to := duration(wires)
		for i := range wires {
			for range int(rate * (to - from)) {
				wires[i].flip(r.between(from, to), r.logBetween(0.2e-6, 30e-6))
			}
		}
		return wires
	}
}

// ringing follows some edges of every wire by one to three pulses within 60 µs.
func ringing(share float64) func(chance, []wire, []float64) []wire {
	return func(r chance, wires []wire, _ []float64) []wire {
		for i := range wires {
			for _, t := range slices.Clone(wires[i].flips) {
				if !r.one(share) {
					continue
				}
				for range r.whole(1, 3) {
					t += r.between(2e-6, 10e-6)
					width := r.between(1e-6, 10e-6)
					wires[i].flip(t, width)
					t += width
				}
			}
		}
		return wires
	}
}

// extra puts pulses as long as metal between vanes of the crank pickup.
func extra(count int) func(chance, []wire, []float64) []wire {
	return func(r chance, wires []wire, _ []float64) []wire {
		for i := range wires {
			if wires[i].role != RoleCrank || len(wires[i].flips) < 40 {
				continue
			}
			f := wires[i].flips
			for range count {
				k := 10 + 2*r.IntN((len(f)-20)/2)
				gap := f[k] - f[k-1] // between two vanes
				at := f[k-1] + gap*r.between(0.3, 0.5)
				wires[i].flip(at, gap*r.between(0.05, 0.2))
			}
		}
		return wires
	}
}

// floating adds an input to which nothing is connected: it catches a share of the sparks as pulses of 10 to 80 µs.
func floating(share float64) func(chance, []wire, []float64) []wire {
	return func(r chance, wires []wire, sparks []float64) []wire {
		var caught []span
		for _, t := range sparks {
			if r.one(share) {
				t += r.between(0, 10e-6)
				caught = append(caught, span{t, t + r.between(10e-6, 80e-6)})
			}
		}
		return append(wires, newWire(RoleUnknown, r.one(0.7), caught))
	}
}

// anyNames calls the channels by number, as most recorders do, or by what they are.
func anyNames(r chance, wires []wire) {
	style := r.IntN(5)
	for i := range wires {
		switch style {
		case 0:
			wires[i].name = fmt.Sprintf("D%d", i)
		case 1:
			wires[i].name = fmt.Sprintf("CH%d", i+1)
		case 2:
			wires[i].name = string(rune('A' + i))
		default:
			wires[i].name = plainName(wires, i)
		}
	}
}

func plainName(wires []wire, i int) string {
	words := map[string]string{
		RoleCrank: "crank", RoleCam: "cam", RoleMark: "tdc", RoleSpark: "coil", RoleUnknown: "spare"}
	word := words[wires[i].role]
	nth, all := 1, 0
	for j := range wires {
		if wires[j].role == wires[i].role {
			if all++; j < i {
				nth++
			}
		}
	}
	if all > 1 {
		return fmt.Sprintf("%s %d", word, nth)
	}
	return word
}

// swappedNames calls the wires by the plugs that they were put in: crank and cam exchanged.
func swappedNames(_ chance, wires []wire) {
	for i := range wires {
		wires[i].name = plainName(wires, i)
		switch wires[i].role {
		case RoleCrank:
			wires[i].name = "cam"
		case RoleCam:
			wires[i].name = "crank"
		}
	}
}
