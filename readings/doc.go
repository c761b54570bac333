// Package readings turns timing-light readings into corrections, and into the proof at the
// end of the job.
//
// A reading is what the light showed on the damper (degrees BTDC) at a steady speed while the
// controller held one commanded advance with every correction switched off. Its timing error
// is e = shown − locked: above zero early, below zero late.
//
// The light may hang on any cylinder's wire. Shown then counts from that cylinder's own top dead centre: from its own
// mark on the damper, or, where it reaches the top together with cylinder 1 (its companion), from the same zero mark. A
// spark a degrees before the top dead centre of a cylinder that comes p after that of cylinder 1 shows as a − p against
// the zero mark; who read it there adds p.
//
// One line goes through all steady readings,
//
//	e(n) = b − 6·n·(τ − c)·10⁻⁶
//
// with n in rpm, b the constant error in crank degrees (housing, marks, lead setting), τ the
// signal delay and c the delay allowance in force at that reading, both in µs. Readings taken
// under different allowances, or before and after a housing turn that is written down, fit
// together. Every cylinder read beside the first has an offset of its own on b and shares the delay. The housing cures
// b, the allowance cures τ − c: each once.
//
// A figure that is likelier a slip than a reading is asked back ([Settings.Doubts]) and counts only where the reader
// confirms it.
//
// [Read] and [Table.Write] handle the CSV file, [Fit] the sums and the verdict, [Prove] the
// closing statement. Uncertainties follow package estimate: intervals are 95 % and t-based, a
// missing uncertainty is infinite, and too few readings give values without an interval or no
// values at all, each said in words. Readings at cranking speed never turn the housing: the
// crank slows on every compression there and their bias belongs to that, not to the housing.
package readings
