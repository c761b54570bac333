// Package shaft reads recorded edges of the pickups and of the spark as a mechanic would: which wire is which, where
// the shaft stood at every instant, whether the signals hold, and at what crank angle the spark was made.
//
// Package waveform turns a file into edges. Here they take one way, in order of time and in bounded memory:
//
//	edges → roles → wheel → track → observer → Result
//
// A first stretch (at most 131,072 edges) is kept until package roles finds which channel carries what, and package
// wheel where the vanes stand. From then on a Track owns position and time: it decides which edge is which vane, and
// gives one interval after the other to an observer, which adds up what the intervals hold: speeds, vanes, cam,
// firings, and in package timing offset and delay. The Result may be asked for at any moment; to read a file to its end
// is the case where the moment is the end.
//
// Units and signs: seconds on the recording's clock, crank degrees in running direction, rpm; advance and timing error
// early positive. Vane width alone is in shaft degrees, as on the job card.
//
// What fails: options that contradict one another are errors. A recording without a crank signal, without a cam, with
// leads swapped and the like gives a Result that says so in Findings and Doubts. A number that cannot be had is left
// out, never made up.
package shaft
