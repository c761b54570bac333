// Package procedure is the order of work for one engine: what to do now, what is locked and why, and what must be done again. It is a
// state machine over the plant (battery, key, injectors, coil power, clamp, plug, tools on the crank, distributor, ...); it decides, never acts.
//
// A Plant is the whole state, packed into one word. A Step has needs (what must stand before), states while it is done and after it, a hazard, a proof
// and branches for the case that the proof fails. Steps are made from the job card and its set-up sheet. Two fences keep the plant safe, each by
// itself: the needs of the steps, and the table of rules (rules.go), which knows no steps. The tests search every state that can be reached.
//
// State comes from recorded events alone (Fold), so that any device may take over. Decide answers a request with an event to record or with a
// refusal, which says what is wanted, what there is, and what to do. An override takes a name and a written reason, and stays in State.Overrides.
//
// Payloads of the events, as recorded in a shop book (more keys may be there; they are kept and passed over):
//
//	step.done      {"step", "who", "proof": {"kind", "value", "rpm", "text", "sha256"}, "basis"}
//	step.undone    {"step", "who", "reason"}
//	step.override  {"step", "who", "reason", "proof", "basis", "against": [...]}
//
// who is the name of the person, beside the event's own who (the device); basis is the figures that the step was done by: where the card gives others
// later, the step must be done again; against names the locks that were overridden. value is in the unit that the step's Demand names.
//
// Angles are degrees BTDC of the crank unless a unit says otherwise; distances are mm. Bad requests give a Refusal of kind Input, never a panic.
// Source: the sequence and the cautions are those of the trade (common practice) unless a rule names another.
package procedure
