// Package stand makes recordings whose truth is known, for the tests of room shaft: engines of every kind with their
// faults, and recordings that hold no engine at all.
//
// It is a second opinion on physics. It shares no code with bench, cranking, trigger, engine, shaft or the
// readers in waveform: it has its own crank, wheel, controller and file writers, all derived from the sums in
// the trade notes. Only tests import it. What an edge or a channel is comes from waveform, what a card is from
// jobcard.
//
// Units and signs: seconds, crank degrees in running direction (vane widths in shaft degrees, as on the card),
// rpm, µs for delays, ms for dwell; advance and timing error early positive. Angle 0 is TDC firing of the first
// cylinder of the firing order. The same class and seed always give the same case.
//
// All engines, names and figures are invented; ranges without a source are assumed.
//
// How to use it:
//
//	go test ./shaft/stand -run TestReport -v                 engines: a line for each miss, then a row for each class
//	go test ./shaft/stand -run TestReport -v -class odd      only classes whose name begins so
//	go test ./shaft/stand -run TestReport -v -rounds 50 -first 1000
//	go test ./shaft/stand -run 'TestFiles|TestNoEngines' -v  files in all dialects; recordings without an engine
//	go test ./shaft/stand -run TestCase -case odd-fire/3 -v  truth, card and all that was said of one case
//	go test ./shaft/stand -run TestReport -v -smooth         the same engines without the ripple of compression
//	go test ./shaft/stand -strict                            holds shaft to what it is to keep in the end
//
// The bounds stand in one table in bounds_test.go: what shaft keeps today, and what it is to keep.
package stand
