// Package estimate says how sure a number is: value ± uncertainty, the budget
// behind it, and the straight line through scattered readings.
//
// What is here:
//
//   - [Budget]: the lines of an uncertainty budget (Type A and Type B), combined
//     standard uncertainty, effective degrees of freedom, expanded uncertainty.
//     Source: JCGM 100:2008 ("GUM").
//   - [LeastSquares], [Line], [Proportional], [Polynomial]: weighted least squares
//     by Householder QR, with covariance.
//   - [PureError], [AgainstStated], [Curvature]: is it a line at all?
//   - [Misreads]: which readings were misread.
//   - [Simulate]: the Monte Carlo check of a budget. Source: JCGM 101:2008.
//   - [TFactor], [StudentQuantile] and their kin: quantiles and tail probabilities.
//
// Everything works on plain float64; the caller keeps the units, and one call must
// not mix them. Standard uncertainties are one sigma, never negative. A missing
// uncertainty is +Inf, never zero. Nothing here reads the clock or a global random
// source: a simulation takes its seed.
package estimate
