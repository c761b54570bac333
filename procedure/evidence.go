package procedure

import "math/bits"

// Follow says what else changes when a part changes: moving a part expires the evidence that depended on it.
type Follow struct {
	When  Part  // a change of this part
	From  uint8 // from one of these values
	To    uint8 // to one of these
	Loses Part  // puts this part
	At    Value // to this value
	Why   string
}

const anyValue uint8 = 0b1111

func values(vs ...Value) (set uint8) {
	for _, v := range vs {
		set |= 1 << v
	}
	return set
}

// follows is the table. Evidence that rests on other evidence goes with it. The order matters: a part stands before what follows from it.
var follows = []Follow{
	{Engine, anyValue, values(Cranking, Running), Crank, Anywhere, "the crank has turned"},
	{Hands, anyValue, values(Turning), Crank, Anywhere, "the crank has turned"},
	{Key, anyValue, values(KeyOff), Lock, LockUnknown, "the key was off: whether the timing is still locked is not known"},
	{CoilPower, anyValue, values(Dead), Engine, Stopped, "no spark, no run"},
	{Injectors, anyValue, values(Dead), Engine, Stopped, "no fuel, no run"},
	{CoilPower, anyValue, values(Live), Box, Charged, "the box charges itself as soon as it has power"},

	{Zero, anyValue, values(No), Marks, No, "they were laid out from a zero mark that is no longer proven"},
	{Marks, anyValue, values(No), Found, No, "it was found by a mark that no longer stands"},
	{Crank, anyValue, values(AtLead), Phased, No, "the engine was brought to the lead anew: look at the edge again"},
	{Found, anyValue, values(No), Phased, No, "the housing was phased with the engine at a lead that no longer stands"},
	{Clamp, values(Tight, Finger), values(Finger, Loose), Phased, No, "the clamp was loosened: the housing may have turned"},
	{Distributor, values(NewIn), anyValue, Fit, NotLooked, "the unit was lifted: look at seat and gear again, and lubricate"},

	{Fit, values(Oiled), anyValue, Phased, No, "what is in doubt under the flange can only be put right with the unit out"},
	{Phased, anyValue, values(No), Stroke, No, "the housing was moved since, or a mark it rests on fell"},

	{Tools, anyValue, values(OnCrank), Walked, No, "tools were put on the crank"},
	{Plug, anyValue, values(Out), Walked, No, "a plug was taken out"},
	{Cap, anyValue, values(Off), Walked, No, "the cap was off"},
	{Wires, anyValue, values(Off), Walked, No, "wires were off"},
	{Clamp, anyValue, values(Finger, Loose), Walked, No, "the clamp was loosened"},
	{Secured, anyValue, values(No), Walked, No, "the vehicle is not secured"},

	{Phased, anyValue, values(No), Base, No, "the clamp was loosened, the housing or the unit was moved, or a mark it rests on fell"},
	{Settings, values(ReadBack), anyValue, Base, No, "settings were changed after the check"},
	{Wires, anyValue, values(Off), Base, No, "wires were off after the check"},
	{Stroke, values(Yes), values(No), Base, No, "the stroke is no longer proven"},

	{Base, anyValue, values(No), Idle, No, "base timing is no longer proven"},
	{Allowance, values(AllowanceRead), anyValue, Idle, No, "the delay allowance was changed since"},
	{Idle, anyValue, values(No), Range, No, "the reading at idle belongs to it"},
	{Range, anyValue, values(No), Proven, No, "it rests on readings that no longer stand"},
	{Proven, anyValue, values(No), Signed, No, "it was signed under a proof that no longer stands"},
	{Signed, anyValue, values(No), Recorded, No, "the record was of a signature that no longer stands"},
}

// move applies effects and what follows from them. causes collects, where it is not nil, the rows of the table that changed something, by place.
// It is the inner loop of the exhaustive search: the parts are compared as bits of one word, not one by one.
func (p *Procedure) move(s Plant, effects []Effect, causes *[]int) Plant {
	after := s
	var set Plant // bits of the parts that the effects set themselves
	for _, e := range effects {
		after = after&^place[e.Part] | Plant(e.To)<<shift[e.Part]
		set |= place[e.Part]
	}
	changed := after ^ s
	if changed == 0 {
		return after
	}
	for i := range p.follows {
		f := &p.follows[i]
		if changed&place[f.When] == 0 || set&place[f.Loses] != 0 {
			continue
		}
		if f.From>>s.Get(f.When)&1 == 0 || f.To>>after.Get(f.When)&1 == 0 || after.Get(f.Loses) == f.At {
			continue
		}
		if f.Loses == Box && !p.box || f.Loses == Lock && after.Get(Lock) == Free {
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

// differing lists the parts in which two states differ.
func differing(a, b Plant) []Part {
	var out []Part
	for part := range parts {
		if a.Get(part) != b.Get(part) {
			out = append(out, part)
		}
	}
	return out
}

func count(set uint64) int { return bits.OnesCount64(set) }
