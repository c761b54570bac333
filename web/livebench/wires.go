package livebench

import (
	"slices"
	"strconv"

	"phasewright/bench"
)

// The towers of the cap go by letters, in firing order with the rotor from the one where the card has No. 1. Which
// plug hangs on one is not known before its wire was followed: what hangs there is as it is, not as the card has it.

// letter names a tower.
func letter(i int) string { return string(rune('A' + i)) }

// towerNames are what stands on each tower: the cylinder where its wire was followed, else the letter.
func (r *rig) towerNames() []string {
	names := []string{}
	for i, cylinder := range r.session.Wires() {
		name := letter(i)
		if r.followed[i] {
			name = strconv.Itoa(cylinder)
		}
		names = append(names, name)
	}
	return names
}

// sparkNames gives what a spark on a cylinder is called: its tower, until the wire there was followed.
func (r *rig) sparkNames() func(cylinder int) string {
	wires, names := r.session.Wires(), r.towerNames()
	return func(cylinder int) string {
		switch at := slices.Index(wires, cylinder); {
		case cylinder <= 0:
			return "?"
		case at >= 0:
			return names[at]
		}
		return strconv.Itoa(cylinder)
	}
}

// unfollowed are the towers whose wire leads one does not know where, by their places.
func (r *rig) unfollowed() []towerChoice {
	var all []towerChoice
	for i, known := range r.followed {
		if !known {
			all = append(all, towerChoice{i, letter(i)})
		}
	}
	return all
}

type towerChoice struct {
	Value  int
	Letter string
}

// doFollow follows a wire from its tower to its plug, or all of them.
func doFollow(r *rig, f form) (string, error) {
	if r.state.SpeedRPM > 0 {
		return "", &bench.Refused{What: "wires", Why: "the engine turns",
			Remedy: "stop it first, then follow the wires by hand and eye"}
	}
	if len(r.followed) == 0 {
		return "", &bench.Refused{What: "wires", Why: "this engine has coils of its own on the plugs",
			Remedy: "there are no wires in a cap to follow"}
	}
	r.version++
	if f.Get("tower") == "all" {
		for i := range r.followed {
			r.followed[i] = true
		}
		return "every wire followed to its plug", nil
	}
	n, err := f.number("tower", "the place of a tower")
	if i := int(n); err == nil && i >= 0 && i < len(r.followed) {
		r.followed[i] = true
		return "wire of tower " + letter(i) + " followed: cylinder " + strconv.Itoa(r.session.Wires()[i]), nil
	}
	return "", &bench.Refused{What: "wires", Why: "there is no such tower", Remedy: "choose one from the list"}
}
