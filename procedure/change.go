package procedure

// Change is something that somebody changed on the engine or in its controller.
type Change string

// The changes.
const (
	HousingTurned   Change = "the housing was turned"
	AllowanceSet    Change = "the delay allowance was changed"
	SettingsChanged Change = "edge, lead or another setting was changed"
	WiresMoved      Change = "wires were moved"
	UnitMoved       Change = "the unit was lifted or phased"
	MarkMoved       Change = "the zero mark was moved"
	OtherEngine     Change = "the card is that of another engine"
	// nobody knows what was done to the engine meanwhile
	Reopened Change = "the job was closed for long and opened again"
)

// touches is the one table of which change puts which evidence in doubt. Steps and corrections let fall what it lists,
// and the judge takes from it which clauses open again. What rests on the evidence goes with it: follows.
var touches = map[Change][]Part{
	HousingTurned:   {Settings, Base, Idle},
	AllowanceSet:    {Settings, Base, Idle},
	SettingsChanged: {Settings, Base, Idle, Lock, Stroke},
	WiresMoved:      {Turned, Base, Idle},
	UnitMoved:       {Phased, Stroke, Turned, Base, Idle},
	MarkMoved:       {Zero, Base, Idle},
	OtherEngine:     {Zero, Lock, Settings, Phased, Stroke, Turned, Base, Idle},
	Reopened:        {Zero, Lock, Settings, Stroke, Turned, Base, Idle},
}

// Touches are the parts of the evidence that a change puts in doubt.
func Touches(c Change) []Part { return touches[c] }

// fell is what a change lets fall at once.
func fell(c Change) []Effect {
	var out []Effect
	for _, part := range touches[c] {
		out = append(out, to(part, No))
	}
	return out
}
