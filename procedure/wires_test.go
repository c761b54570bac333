package procedure

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
)

// The wires in the order in which they are read, and where their TDC marks lie: worked out by hand from the firing order.
// Even firing every 720/N°; a mark that comes after zero lies against running direction; the companion, 360° away, needs
// no mark of its own.
func TestOtherWiresCompanionFirst(t *testing.T) {
	for name, want := range map[string]struct {
		wires  []int
		behind []float64
	}{
		"mill-pump":   {[]int{4, 2, 3}, []float64{0, 180, 180}}, // 1-2-4-3
		"sandpiper":   {nil, nil},                               // below: from its card
		"tern-single": {nil, nil},                               // no other
	} {
		p := orderOf(t, name)
		st, there := p.Step(StepOther)
		if name == "tern-single" {
			if there {
				t.Error("a single has another wire")
			}
			continue
		}
		c := cardOf(t, name)
		b := newBuilder(c, nil)
		if want.wires == nil {
			order, n := c.Engine.FiringOrder, len(c.Engine.FiringOrder)
			want.wires, want.behind = []int{order[n/2]}, []float64{0}
			for i := 1; i < n; i++ {
				if i != n/2 {
					off := math.Mod(float64(i)*720/float64(n), 360)
					if off > 180 {
						off -= 360
					}
					want.wires, want.behind = append(want.wires, order[i]), append(want.behind, off)
				}
			}
		}
		if !slices.Equal(st.Demand.Wires, want.wires) {
			t.Errorf("%s reads %v, want %v", name, st.Demand.Wires, want.wires)
		}
		for i, w := range b.wires() {
			if math.Abs(float64(w.behind)-want.behind[i]) > 1e-9 {
				t.Errorf("%s: the mark of cylinder %d lies %v° behind, want %v", name, w.cylinder, w.behind, want.behind[i])
			}
		}
	}
}

// Another wire is read as a figure at idle with whose wire it was; what is not a wire of this engine, and a speed above
// idle, are refused, and the reading of the first wire takes none.
func TestOtherWireIsAFigureAndAWire(t *testing.T) {
	w := newWork(orderOf(t, "mill-pump"))
	w.refused(t, w.show(StepOther, func(f *Proof) { f.Wire = 4 }), "read every speed")
	w.upTo(t, StepProve)
	w.do(StepStop)
	on := func(wire int, rpm, shown float64) func(*Proof) {
		return func(f *Proof) { f.Wire, *f.RPM, *f.Value = wire, rpm, shown }
	}
	w.refused(t, w.show(StepOther, on(1, 820, 12)), "4, 2 or 3")
	w.refused(t, w.show(StepOther, on(0, 820, 12)), "4, 2 or 3")
	w.refused(t, w.show(StepOther, on(4, 2000, 12)), "faster than this step allows")
	o := w.show(StepOther, on(4, 820, 15.5))
	if len(o.Refused) > 0 || len(o.Events) != 1 || !strings.Contains(string(o.Events[0].Payload), `"wire":4`) {
		t.Fatalf("%+v", o)
	}
	plant(t, w, Range, Yes)
	plant(t, w, Starter, Disabled)
	if took, ok := w.home(); !ok {
		t.Errorf("no way home after %v", took)
	}
}

// Where each cylinder has its coil there is no plug wire to clamp: the steps say where the clamp goes, and by whose word.
func TestLightOnCoilOnPlug(t *testing.T) {
	p := orderOf(t, "coil on plug")
	for _, id := range []StepID{StepWires, StepOther} {
		st, _ := p.Step(id)
		notes := fmt.Sprint(st.Notes)
		if !strings.Contains(notes, "primary wire") || !strings.Contains(notes, "extension wire") || !strings.Contains(notes, "clamp goes round the primary wire that feeds this coil alone") ||
			!strings.Contains(notes, "Ask the coil's maker which of the two is allowed (common practice)") {
			t.Errorf("«%s» says %s", id, notes)
		}
	}
	for _, id := range []StepID{StepWires, StepBase, StepOther} {
		st, _ := p.Step(id)
		ticked := slices.ContainsFunc(st.Demand.Also, func(a Also) bool { return a.ID == LookCoils })
		if !ticked || !strings.Contains(fmt.Sprint(st.Show), "a spark tester on that coil") {
			t.Errorf("«%s» does not say where each spark goes: %v %v", id, st.Show, st.Demand.Also)
		}
	}
	st, _ := p.Step(StepWires)
	if !strings.Contains(st.Text, "on the primary of coil 1, or an extension wire") {
		t.Error(st.Text)
	}
	led, _ := orderOf(t, "sandpiper").Step(StepWires)
	if strings.Contains(led.Text+fmt.Sprint(led.Notes), "primary") || !strings.Contains(led.Text, "clamp on the plug wire of cylinder 1") {
		t.Error(led.Text)
	}
}
