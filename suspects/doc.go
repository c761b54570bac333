// Package suspects names what is wrong when the light does not show what it should: it weighs every fault of the trade,
// alone and in pairs, against all that was seen, and says which look would settle it for the least work.
//
// What a fault shows comes from two places. Lights, lamps and how the engine goes come from the bench
// (bench.Model.Expect): what a sound instrument would show on this engine with this fault. What no bench shows (a burnt
// rotor, a plug's face, a hot ground strap) stands in the table of faults (faultsbench.go, faultsshop.go): of each look
// the chances of its words in per cent, where they differ from a sound engine. The looks themselves are a table too
// (observations.go), from which reader, schema, advice and page are made.
//
// A hypothesis is a set of none, one or two faults with their sizes free. Its likelihood is
//
//	∫ p(numbers | sizes, nuisances) · p(words | sizes) · p(sizes) p(nuisances)
//
// Sizes that move a number in a straight line (housing, lead, delay, allowance …) and the nuisances (what is left of a
// careful set-up, the zero mark, the cranking bias) are normal and are integrated in closed form; sizes that do not are
// a few nodes each (cases.go); words (an engine that spits, a lamp that is dark) are weighed at the fitted sizes, or at
// quadrature points where the sizes are still wide. Any number may be a misread, so every likelihood is a mixture over
// readings left out (gauss.go). Beside the faults stand "nothing wrong" and "none of these".
//
// The ranking names of each hypothesis the part that the evidence speaks for (group.go); what keeps the timing inside
// the card's tolerance is nothing wrong. The odds of a line are those that what it names is truly there: the fault that
// it names, or both where it names two, or one of several that stand together; whether another fault is there beside is
// not said. They are raised to a power first: with the chances as they are set down, what was put first on evidence
// written by hand from the trade came true more often than said (testdata/shop).
//
// More looks with the light than a person takes (a whole table of readings) are taken together by speed and time first
// (looks.go), so that any number of them can be weighed.
//
// Angles are crank degrees BTDC, early positive, or shaft degrees, against the rotor positive; times µs; as in package
// bench. Prior odds are our judgement (priors.go) and may be replaced. Probabilities mean what they say only as far as
// the priors, the table and the bench do; the tests measure how often they are right.
//
// Contradictory evidence is a finding ("none of these" rises), never an error. Evidence that cannot be read is a *Error
// with its place.
package suspects
