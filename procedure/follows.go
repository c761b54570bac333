package procedure

// Follow says what else changes when a part changes: moving a part expires the evidence that depended on it.
type Follow struct {
	When  Part  // a change of this part
	To    uint8 // to one of these values
	Loses Part  // puts this part
	At    Value // to this value
	Why   string
}

func values(vs ...Value) (set uint8) {
	for _, v := range vs {
		set |= 1 << v
	}
	return set
}

// follows is the table. Evidence that rests on other evidence goes with it. The order matters: a part stands before
// what follows from it.
var follows = []Follow{
	{Engine, values(Cranking, Running), Crank, Anywhere, "the crankshaft has turned"},
	{Hands, values(Turning), Crank, Anywhere, "the crankshaft has turned"},
	{Key, values(KeyOff), Lock, LockUnknown, "the key was off: nobody knows whether the timing is still locked"},
	{Feed, values(Live), Box, Charged, "the box charges itself as soon as it has power"},
	{FuelLine, values(Empty), Leaks, No, "the fuel line was opened"},

	{Zero, values(No), Marks, No, "they were laid out from a zero mark that is no longer proven"},
	{Marks, values(No), Crank, Anywhere, "the lead was found by a mark that no longer stands"},
	{Marks, values(No), Phased, No, "the housing was phased at a mark that no longer stands"},
	{Unit, values(OldIn, NoneIn, NewIn), Fit, NotLooked,
		"the unit was lifted: look at seat and gear again, and oil them"},
	{Unit, values(OldIn, NoneIn, NewIn), Phased, No, "the unit was moved"},
	{Fit, values(NotLooked, DryFitted), Phased, No, "what is in doubt under the flange is put right with the unit out"},
	{Crank, values(AtLead), Phased, No, "the engine was brought to the lead anew: look at the edge again"},
	{Clamp, values(Loose), Phased, No, "the clamp was loosened: the housing may have turned"},
	{Phased, values(No), Stroke, No, "the housing was moved since, or a mark it rests on fell"},

	{Phased, values(No), Turned, No, "the engine is opened again"},
	{Plugs, values(Out), Turned, No, "plugs were out"},
	{Cap, values(Off), Turned, No, "the cap was off"},
	{Wires, values(Off), Turned, No, "wires were off"},
	{Clamp, values(Loose), Turned, No, "the clamp was loosened"},
	{Turned, values(No), Base, No, "the engine was opened, or the housing or a mark it rests on moved"},
	{Settings, values(No), Base, No, "settings were changed after the check"},
	{Stroke, values(No), Base, No, "the stroke is no longer shown"},

	{Base, values(No), Idle, No, "base timing is no longer shown"},
	{Idle, values(No), Range, No, "the reading at idle belongs to it"},
	{Range, values(No), Proven, No, "it rests on readings that no longer stand"},
	{Proven, values(No), Signed, No, "it was signed under a proof that no longer stands"},
	{Bar, values(OnCrank), Signed, No, "tools were put on the crankshaft after the signature"},
	{Feed, values(Dead), Signed, No, "the coil was taken off after the signature"},
	{Starter, values(Disabled), Signed, No, "the starter was taken off after the signature"},
	{FuelLine, values(Empty), Signed, No, "the fuel was opened after the signature"},
}

// move applies effects and what follows from them. causes collects, where it is not nil, the rows of the table that
// changed something, by place.
func (p *Procedure) move(s Plant, effects []Effect, causes *[]int) Plant {
	after := s
	var set Plant // bits of the parts that the effects set themselves
	for _, e := range effects {
		after = after.With(e.Part, e.To)
		set |= place[e.Part]
	}
	after = after&^p.fixed | p.found&p.fixed
	changed := after ^ s
	if changed == 0 {
		return after
	}
	for i := range p.follows {
		f := &p.follows[i]
		if changed&place[f.When] == 0 || set&place[f.Loses] != 0 || p.fixed&place[f.Loses] != 0 {
			continue
		}
		if f.To>>after.Get(f.When)&1 == 0 || after.Get(f.Loses) == f.At || f.Loses == Lock && after.Get(Lock) == Free {
			continue
		}
		after = after.With(f.Loses, f.At)
		changed = after ^ s
		if causes != nil {
			*causes = append(*causes, i)
		}
	}
	return after
}

// through applies the moments of a step one after the other and gives the plant at each.
func (p *Procedure) through(s Plant, moments [][]Effect, causes *[]int) (during []Plant, after Plant) {
	for _, m := range moments {
		s = p.move(s, m, causes)
		during = append(during, s)
	}
	return during, s
}
