// Package cranking is how the crank turns while the starter drags it through its compressions, and what that does to the shown timing.
//
// Compression slows the crank and expansion speeds it up within each firing interval. The controller plans each spark with the mean of the last
// interval, so on the starter the light shows something else than what is commanded although every setting is right (Bias). Turning the
// housing for it would build the bias into the running engine.
//
// Model. A torque balance over crank angle: polytropic gas torque through the slider–crank (Engine), inertia with the reciprocating parts, friction
// and a starter with its torque–speed line. Train holds it as tables over the period of the firings and steps kinetic energy degree by degree;
// Setup.Turn finds the starter that keeps up the cranking speed and gives the motion, which repeats every cycle (Turning).
//
// Units and signs are those of packages quantity and engine: crank degrees count in running direction from TDC firing of cylinder 1, an advance is
// degrees BTDC, early positive. Energies are J, times µs, speeds inside the tables rad/s.
//
// There is no clock, no chance and no goroutine here: same input, same output. An engine that cannot be is a *quantity.Invalid; a starter that would not
// turn it over compression is an error that says what to raise.
//
// Sources: slider–crank and polytropic process as in any engine-mechanics textbook; numbers marked "assumed" in the comments are typical values
// without a published source, and Spread gives them as ranges.
package cranking
