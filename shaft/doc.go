// package shaft reads recorded edges of the pickups and of the spark as a mechanic would: which wire is which, where the shaft stood at every
// instant, whether the signals hold, and at what crank angle the spark was made.
//
// package waveform turns a file into edges; this package takes them in one pass, in order of time, with bounded memory: a first stretch
// (at most 131,072 edges) is kept to tell the roles and to learn the vane wheel, then everything is followed through once.
//
// Method. Roles come from edge counts between one another, from pulse widths that grow with the period (metal) or do not (time), from
// who follows whom, and last from the name; each carries its reason. Spikes, far shorter than their neighbours, are left out of that, and a role that
// another casting gives differently and nearly as well is left open and asked for. The shaft track explains the crank pickup's active edges as vanes
// with the smoothest speed, weighing missing and extra edges against jumps of speed (a beam search with a short look-ahead). Angles
// between edges come from the cubic through four edges, exact for constant acceleration. Vane positions are taken against the same
// vane one cycle earlier and later, so a vane's own error cancels, and extrapolated in 1/n² to infinite speed, since the speed ripple of
// compression falls with the square of speed.
//
// Timing. A controller that sees one edge a firing waits T·(L−a)/S after it, T being its last interval. In these terms the wait t gives
// S·t/T = L − a + 6·n·(τ−c)·10⁻⁶ with n the mean speed of that last interval, exactly so at constant acceleration: it already contains
// the lateness 3·α·t·(T+t) that a shaft speeding up adds (trade sums, "what the controller can know"). A mark once a turn at TDC gives L as it
// stands in metal, against speed. Both lines together are e(n) = b − 6·n·(τ−c)·10⁻⁶. Uncertainties come from leaving out whole stretches of the
// recording in turn (delete-one-group jackknife), so neighbouring firings need not be independent.
//
// Units and signs: seconds on the recording's clock, crank degrees in running direction, rpm; advance and timing error early positive. Vane width alone
// is in shaft degrees, as on the job card.
//
// What fails: options that contradict themselves are errors. A recording without a crank signal, without a cam, with leads swapped and the like
// is a Result that says so in Findings and Doubts; a number that could not be had is left out, never made up.
package shaft
