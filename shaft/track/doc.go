// Package track follows a turning shaft by its crank pickup: which active edge is which vane, where the shaft stood at
// every instant, and whether its place on the 720° cycle is known.
//
// A Track is fed the edges of all channels in order of time. It decides which active crank edges are vanes (see
// hypotheses.go), anchors the count of vanes to the 720° cycle by the cam, or by the mark where there is no cam, and
// gives an Observer one interval after the other, each with all events in it. The Track alone owns position and time;
// the observer only gathers.
//
//	active edges    |     |     |           |     |
//	pass            0     1     2    (miss) 3     4     numbers count through the recording
//	interval           0     1        2        3        interval i lies between pass i and pass i+1
//
// Angles between edges come from the cubic through the four nearest edges, which is exact for an acceleration that is
// constant or changes steadily.
package track
