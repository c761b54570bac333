// Package stand makes recordings whose truth is known, for the tests of room shaft: engines of every kind with their
// faults, and recordings that hold no engine at all.
//
// It is a second opinion on physics. It shares no code with bench, cranking, trigger, engine, shaft or the readers in
// waveform: it has its own crank, wheel, controller and file writers, all derived from the sums in the trade notes. Only
// tests import it. What an edge or a channel is comes from waveform, what a card is from jobcard.
//
// Units and signs: seconds, crank degrees in running direction (vane widths in shaft degrees, as on the card), rpm, µs for
// delays, ms for dwell; advance and timing error early positive. Angle 0 is TDC firing of the first cylinder of the firing
// order. The same class and seed always give the same case.
//
// All engines, names and figures are invented; ranges without a source are assumed.
package stand
