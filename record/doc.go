// Package record is what a job's events in the shop book come to: its card, readings, corrections, steps, captures and
// proof, and the papers made of them.
//
// Fold reads the events, each payload by the keys that package book lists for its kind; what follows from them is
// worked out by the rooms that know how (sheet, readings, procedure) and laid on paper by report. Screens and the
// command line take a job from here, so that both say the same of it.
//
// Nothing here opens a book or asks the clock: line, events and files of the job come in as values, and a paper bears
// the date of the job's last event. Angles are degrees, shown and locked before top dead centre of the crank, housing
// turns of the shaft; allowances are microseconds.
//
// Each change of housing, allowance, edge, lead, wires or card begins a new configuration of the engine, and they are
// counted. What is entered carries the count that its screen showed: a reading that arrives late belongs to the
// configuration it was taken in, with the housing and allowance of then.
//
// What fails: everything that follows from a card answers ErrNoCard while the card cannot be used. An event that this
// release cannot read, or that cannot be (a light that shows 400°), is kept and does not count; Job.Why says why.
package record
