// Package bench is the simulated engine: crank train, starter, distributor with vanes and housing, pickups, controller,
// rotor, plugs and timing light, with every fault of the trade to switch on.
//
// It answers "what would the light, the lamps and a recorder show on this engine with this fault", as events in time
// order (Rig), as sampled signals (WriteCSV, WriteVCD, WriteWAV), as readings (WriteReadings), live (Session) and in
// closed form (Model.Expect). Practice jobs (Exercises) are judged by the work: by the looks taken, the figures written
// down as read, the cure left in force, and the unsafe acts; what was hidden is told apart from that (Session.Reveal,
// Session.Truth). Package trial holds ways of working and the judge against the truth that only the bench knows.
//
// Nothing is hidden that cannot be seen: Offer lists what shows on an engine, Model.Signs says by which look. A Session
// writes a Journal of its acts, and Replay brings the same state back from it.
//
// Model. Crank motion is imposed (steady, ramp, list) or comes from the torque balance of package cranking, to which
// the live bench adds throttle and firing. Each vane edge passes its pickup at a crank angle; the controller sees it a
// delay later, measures the interval since the last active edge and places the spark T·(L−a)/spacing after the edge,
// less its delay allowance. The rotor stands where the shaft stands and steers the spark to a tower; the light flashes
// on the wire it is clamped to. The controller's law is derived from that sentence alone and is no maker's.
//
// Units and signs are those of packages quantity and engine: crank degrees count in running direction, an advance is
// degrees BTDC, early positive; a housing turn is in shaft degrees, against the rotor (earlier) positive. Times on the
// clock are µs since the run began.
//
// Everything is decided by the Config, the Faults and a seed: same input, same output. There is no clock and no
// goroutine here. A configuration or fault that cannot be is an error that names it and lists what is accepted.
//
// Numbers marked "assumed" in the comments are typical values without a published source; CrankingBias gives them as
// ranges, LiveConstants those of the live bench.
package bench
