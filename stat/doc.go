// Package stat is the room of statistics without a trade: what its packages
// compute knows nothing of tyres, vehicles or programmes, and may be used
// alone. They import gonum, caveat and fault, and each other.
//
//   - linear: linear models by least squares, contrasts, influence
//   - mixed: models with random terms and their degrees of freedom
//   - manyone: many candidates against one control, all pairs, power
//   - drift: whether a series moves, and how
//   - outlier: outliers and repeatability
//   - pool: pooled and moderated variances, charts of a check standard
//   - agree: agreement of raters and of methods
//   - resample: bootstrap
//   - uncertain: propagation of uncertainty
//   - tail: the tails of distributions that the others share
//
// What cannot be computed is said by an error, a second result or a caveat,
// never by NaN. The same input gives the same bits.
package stat
