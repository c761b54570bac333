// Package quantity holds the measures of the job as types, each with its unit: crank angle, shaft angle, speed, time,
// length and the electrical ones, read from what a person writes ("6.5 in", "165 mm ± 0.3 mm", "0,5 deg") and printed
// with the unit always in sight.
//
// Every type is a float64 in one base unit, named beside the type. Angles are degrees, so whole degrees and 6 °/s per
// rpm are exact. Crank and Shaft are different types on purpose: one shaft degree is two crank degrees, and only
// package engine turns one into the other. All angles here are differences; a position on the 720° cycle, which wraps,
// is engine.Position.
//
// Conversions exist only where physics allows them (a speed times a time is an angle). Reading a text fails with a
// *ParseError that names what was found and what is accepted; nothing is guessed: a bare number has no unit and is
// refused, and "1,000 rpm" is refused since it may mean one or a thousand.
package quantity
