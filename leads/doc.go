// Package leads works out what stands between an engine's signals and a recorder's input: the resistors of a divider,
// the diodes of a clamp, their ratings, what voltage is left at the input, and what the lead does to an edge's place.
//
// Signals lists what can be recorded on a card's engine, with the voltages to expect; Make gives the lead of each for a
// sound card's input, and the probe that a scope needs. Values of resistors come from the series E12 and E24 of IEC
// 60063. Voltages in volts, resistances in ohms, times in microseconds, frequencies in hertz.
//
// Lamps gives the lamp that shows a pickup's level with the engine standing: its resistor, where it goes, and what the
// output can drive.
//
// Nothing here protects anybody from the secondary: tens of kilovolts jump past any resistor. A card whose figures
// cannot be met gives a lead with a reason instead of parts.
package leads
