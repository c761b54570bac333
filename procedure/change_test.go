package procedure

import "testing"

// Each step that changes something lets fall all that the one table of changes says, be it done or taken back: the judge
// goes by the same table.
func TestStepsLetFallWhatTheTableSays(t *testing.T) {
	p := orderOf(t, "sandpiper")
	proven := p.AsFound()
	for part := AsFound; part < parts; part++ {
		if part != Fit {
			proven = proven.With(part, Yes)
		}
	}
	proven = proven.With(Fit, Ready).With(Unit, NewIn)
	for _, c := range []struct {
		change Change
		step   StepID
		back   bool // taken back, not done
	}{
		{HousingTurned, StepHousing, false}, {AllowanceSet, StepAllowance, false}, {SettingsChanged, StepSettings, true},
		{WiresMoved, StepOpen, false}, {WiresMoved, StepRotor, false}, {UnitMoved, StepUnitOut, false}, {MarkMoved, StepZero, true},
	} {
		st := p.steps[p.at[c.step]]
		after := p.move(proven, st.Undo, nil)
		if !c.back {
			_, after = p.through(proven, st.During, nil)
			after = p.move(after, st.After, nil)
		}
		if len(Touches(c.change)) == 0 {
			t.Errorf("%s touches nothing", c.change)
		}
		for _, part := range Touches(c.change) {
			if !part.isEvidence() && part != Lock {
				t.Errorf("%s: %s is no evidence", c.change, Say(part, No))
			}
			if after.Get(part) != No && place[part]&p.fixed == 0 &&
				!(c.change == SettingsChanged && (part == Lock || part == Stroke)) { // the card is what changes these
				t.Errorf("%s: after «%s» it still stands: %s", c.change, c.step, Say(part, after.Get(part)))
			}
		}
	}
}
