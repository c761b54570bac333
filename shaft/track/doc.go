// Package track follows a turning shaft by its crank pickup: which active edge is which vane, where the shaft stood at
// every instant, and whether its place on the 720° cycle is known.
//
// A Track is fed the edges of all channels in order of time. It decides which active crank edges are vanes (see
// guesses), anchors them to the cycle by the cam, or by the mark where there is no cam, and hands on one interval after
// the other, each with all that happened in it, to an Observer. It alone owns position and time; what is made of them
// is the observer's.
//
// Angles between edges come from the cubic through four edges, exact for constant acceleration.
package track
