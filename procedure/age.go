package procedure

import "time"

// A condition that other people can undo stands only while somebody is at the engine. Both times are assumed: a break
// for a meal is shorter than the first, a working day ends within the second, and a night is longer than the first.
const (
	longestBreak = 3 * time.Hour  // without anything recorded; after it nobody knows who was at the engine
	longestShift = 12 * time.Hour // since people were last asked, however busy it was
)

// Age is a condition that does not outlive a break.
type Age struct {
	Part Part
	Fear Value // what must be feared after it
	Why  string
}

// ages is the table: what must be shown again once people came back.
var ages = []Age{
	{People, No, "nobody knows who was here meanwhile"},
	{Secured, No, "drive, chocks and moorings may have been changed meanwhile"},
	{Feed, Live, "somebody may have put the coil feed back meanwhile"},
	{Box, Charged, "somebody may have fed the box meanwhile"},
	{Injectors, Live, "somebody may have put the injectors back meanwhile"},
	{FuelLine, Full, "the bowl fills and a rail takes pressure as soon as anybody opens a tap"},
	{Starter, Able, "somebody may have put the starter wire back meanwhile"},
	{Battery, Connected, "somebody may have put a battery or charger back meanwhile"},
	{Crank, Anywhere, "somebody may have turned the crankshaft meanwhile"},
	{Leaks, No, "a joint may have been opened meanwhile"},
	{Lock, LockUnknown, "the controller may have been set otherwise meanwhile"},
}

// Ages lists the conditions that end with a break. A caller must not change it.
func Ages() []Age { return append([]Age(nil), ages...) }

// AwayTooLong says whether a job was signed or put away so long ago that nobody knows what was done to its engine
// since.
func AwayTooLong(put, opened time.Time) bool { return opened.Sub(put) > longestBreak }

// pause is the plant after everybody was away for too long. A signed job is over: nothing of it ages.
func (p *Procedure) pause(s Plant) Plant {
	if s.Get(Signed) == Yes {
		return s
	}
	var fears []Effect
	for _, a := range p.ages {
		if a.Part == Lock && s.Get(Lock) == Free {
			continue
		}
		fears = append(fears, to(a.Part, a.Fear))
	}
	if s.Get(Clamp) == Loose {
		fears = append(fears, to(Phased, No)) // whoever leant on the unit turned it
	}
	return p.move(s, fears, nil)
}
