// Package procedure is the order of work for one engine: what to do now, what is locked and why, and what must be
// shown again. It decides and never acts.
//
// The plant is everything that matters to hands and engine: people, place, feed, fuel, starts, tools, plugs, clamp and
// what was shown of the timing (plant.go). A Plant is one state of it, packed into a word.
//
// The steps stand in one line. A step may be done where every step before it stands; what has fallen is done again
// first, in the order of the line. So there is always one thing to do now, and each doing brings the end nearer. Steps
// on demand (stop, correct, open again, another wire) stand beside the line and have needs of their own.
//
// Two fences keep the plant safe, each by itself: the line, and the table of locks (locks.go), which knows no steps.
// Conditions that other people can undo have an age (age.go): they never stand overnight.
//
// State comes from recorded events and from the clock that is passed in (Fold), so that any device may take over.
// Decide answers a request with events to record or with a refusal, which says what is wanted, what there is, and what
// to do. A check on a turning engine that fails gives both: the attempt happened, the coil is fed, and the step is not
// done.
//
// Payloads of the events, as recorded in a shop book (more keys may be there; they are kept and passed over):
//
//	step.done        order, step, who, proof, basis
//	step.tried       the same, of a check that failed: what was moved was moved
//	step.undone      order, step, who, reason
//	step.override    order, step, who, second, reason, proof, basis, against
//	correction.made  housing_deg, allowance_us, step; without a step it was made beside the order
//	proof, in them   kind, value, rpm, u, wire, text, sha256, seen
//
// order is the edition of the order of work, 2. Events without it come from earlier releases with other steps: they are
// history, stand in the log, and show nothing. What a correction beside the order touches falls. who is the name of the
// person, beside the event's own who (the device). basis is the figures that the step was done by: where the card gives
// others later, it must be done again. against names the locks that were overridden. value is in the unit that the
// step's Demand names, u its standard uncertainty where a recording tells it. wire is the cylinder whose wire the light
// was on, seen the looks (Look) that were ticked.
//
// Angles are degrees BTDC of the crank unless a unit says otherwise; distances are mm. Bad requests give a Refusal of
// kind Input, never a panic.
//
// Source: docs/hazards.md lists each hazard with its source and what holds it. The sequence is the trade's (common
// practice), but for one place: the coil feed is dead before fuel is opened, and the place is made safe before the
// engine runs as found.
package procedure
