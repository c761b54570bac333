// Package coil answers whether there is a spark at all: does the coil charge in the time it has, does it stay cool, and can it
// break down the plug gap and the rotor gap at the pressure in the cylinder.
//
// Charge: V − R·i = dλ/dt with λ the flux linkage of the primary and L(i) = dλ/di, which falls as the iron saturates. The time to a
// current, t = ∫ L di/(V − R·i), has a closed form for every shape of L(i) that a job card can hold; the one shape without (Floored) is
// integrated by Gauss–Legendre panels. Stored energy is ∫ i dλ, never ½·L·i². Source: any text on R–L circuits; checked against OpenStax
// University Physics 2 §14.4 and a circuit simulator.
//
// Spark: Paschen's law with documented constants beside the empirical uniform-field formulas, so that a breakdown voltage is always a
// band; pressure at the spark from compression ratio, inlet pressure and piston position. Everything in this half is an estimate.
//
// Units are those of package quantity; advance is crank degrees before top dead centre, early positive. Bad values are *quantity.Invalid errors
// naming the field and what is accepted. A result outside the range in which its data or formula is known carries a mark (Beyond,
// Outside) and is to be drawn dashed; it is never passed off as known.
//
// Coils and spark boxes carry tens of kilovolts and a spark box stores a lethal shock: these are numbers for planning, the maker's
// instructions come first, and work on ignition is for trained people.
package coil
