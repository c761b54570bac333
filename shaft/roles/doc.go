// Package roles tells which channel of a recording carries what: crank, cam, spark, mark.
//
// It looks at a first stretch of edges. Metal is told from time by pulse widths: a vane's width grows with the period,
// a dwell or a clamp's pulse does not. Who belongs to whom is told by counts (so many crank pulses between cam pulses),
// by whether the edges of one channel keep their place between those of the other as long as the recording lasts, and
// by who is timed from whom. A channel's name is a hint, never more. The job card settles what it can.
//
// Every assignment of roles gets points, in the manner of log odds. The best one stands where no other gives a channel
// another role nearly as well; else the role is left open and asked for.
package roles
