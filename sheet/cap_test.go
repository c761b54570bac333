package sheet

import (
	"slices"
	"strings"
	"testing"
)

// made is the ferry's whole sheet with texts of its card replaced: old, new …
func made(t *testing.T, swap ...string) *Sheet {
	t.Helper()
	s, err := Make(sparkCard(t, "heron-ferry", swap...))
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// The cap of an odd-fire engine is asked for. By hand for the ferry, which fires 50 and 70 shaft degrees apart by turns: on a cap whose towers
// stand 60° apart the tip stands 0 or 10° short of where it is at the first, so 5° short in the middle and 5° to either side, which is added to the
// play; its towers then stand at whole multiples of 60°. Twelve teeth of 30° meet the vanes again after 120° only, whatever the cap.
func TestTheCapThatIsThere(t *testing.T) {
	if it := made(t).Item("cylinder_map"); it.Verdict != Fine {
		t.Errorf("a cap that is stated: %s, %s", it.Verdict, it.Because)
	}
	open := made(t, "cap: uneven, ", "").Item("cylinder_map")
	if open.Verdict != Caution || !strings.Contains(open.Because, "write distributor.cap") || !slices.Contains(open.Inputs, Input{Path: "distributor.cap", Value: "uneven", Assumed: true}) {
		t.Errorf("a cap that is not stated: %s, %s, %v", open.Verdict, open.Because, open.Inputs)
	}
	fits := rotorOf(sparkCard(t, "heron-ferry"))
	c := sparkCard(t, "heron-ferry", "cap: uneven", "cap: even")
	even := rotorOf(c)
	if even.AtEdge != fits.AtEdge-5 || even.Play != fits.Play+5 || even.Towers[0] != 60 || fits.Towers[0] != 50 {
		t.Errorf("even cap: %+v, the cap that fits: %+v", even, fits)
	}
	s, err := Make(c)
	if err != nil {
		t.Fatal(err)
	}
	for _, tower := range s.CylinderMap {
		if tower.AngleDeg != 60*float64(tower.Tower-1) {
			t.Errorf("tower %d of an even cap stands at %v°", tower.Tower, tower.AngleDeg)
		}
	}
	if it := s.Item("rotor_sweep"); !strings.Contains(it.Because, "up to 5.0° to either side") {
		t.Errorf("the sweep on an even cap: %s", it.Because)
	}
	text := made(t, "cap: uneven", "cap: even", "gear_teeth: 17", "gear_teeth: 12").Item("gear_landings").Text
	if !strings.Contains(text, "4 teeth are exactly 2 of the 6 towers of the even cap") || !strings.Contains(text, "cam setting") {
		t.Errorf("twelve teeth under an even cap: %s", text)
	}
}
