// Package sheet is the set-up sheet: everything that follows from a job card before a spanner is lifted, each item with
// its value and unit, the rule in words, what it was computed from, a verdict, and what happens if it is ignored.
//
// Make computes nothing by itself: every number comes from engine, distributor, trigger, coil or cranking. Verdicts are
// fine, caution and stop; a sheet with a stop is no sheet to work by. One file an area of the engine; a new item is a
// function added to the list in areas. Units stand in every item; crank degrees unless the unit says shaft degrees.
package sheet
