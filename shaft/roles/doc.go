// Package roles tells which channel of a recording carries what: crank, cam, spark, mark.
//
// It looks at the first stretch of edges, in which three things show what a channel carries. Pulse width: that of a
// metal vane grows with the period, that of a dwell or of a clamp's pulse does not. Counts: so many crank pulses come
// between two cam pulses. Place and time: edges made by one shaft keep their place among one another as long as the
// recording lasts, and sparks follow the crank edges by a wait that scatters little. A channel's name is a hint, never
// more. The job card decides what it can.
//
//	            ├──── one cycle, 720° ──┤
//	crank     |     |     |     |     |     |     |     as many between cam edges as there are vanes, always
//	cam         |                       |               once a cycle
//	mark           |           |           |            once a turn: twice as often as the cam
//	spark        |     |     |     |     |     |        after each crank edge, by a wait that follows the interval
//
// Every assignment of roles to channels gets points, like log odds. The one with the most points is taken. Where
// another one with nearly as many points gives a channel another role, that role is left open and asked for.
package roles
