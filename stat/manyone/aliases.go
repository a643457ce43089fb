// Package manyone compares many candidates with one control at once: Dunnett's
// simultaneous p-values, critical values and intervals for comparisons that are
// correlated in any way, and what rests on them: step-down tests, all pairs
// with letters, equivalence, power and the split of runs between control and
// candidates.
//
// The comparisons are T_i = d_i / se_i with known correlations of the d_i and
// one residual deviation with DF degrees of freedom, which may be infinite.
// What is computed is always the small side, P(max > c), never 1 less the
// large one, so that small p-values keep their digits. The way is chosen by
// the correlation matrix, but for the last, and named in every result:
//
//   - "Student": one comparison (or several that are the same);
//   - "plane": comparisons of rank two, by angle, exact to rounding;
//   - "one factor": correlations lambda_i*lambda_j, as in a one-way layout with
//     one control, by trapezoid in the factor and in the logarithm of the
//     deviation (Dunnett 1955, 1964), to 1e-11 relative;
//   - "sphere": comparisons of rank three, by azimuth, to about 1e-11;
//   - "factors": correlations with several factors, by trapezoid over the
//     factors, to 1e-9 relative. A linear model with q terms beside the codes
//     gives its contrasts at most q+1 factors, so that drift and covariates
//     come here; and so do brackets, whose control stints are the factors, each
//     shared by its neighbours alone;
//   - "range": all pairs of codes of equal standing, the studentised range;
//   - "lattice": everything else, by a fixed lattice rule over Genz's
//     transformed variables with the nearest family of factors as control
//     variate, with the error bound that comes with the result;
//   - "Bonferroni": in place of factors and lattice where the single tails sum to
//     less than 1e-10.
//
// With one factor or several, the tail for a known deviation is kept as a
// function of the limit, so that every further limit, level and number of
// degrees of freedom costs some 20 microseconds. Families are kept, and the
// same input gives the same bits whatever was asked before: there is no random
// number in it.
//
// Sources: Dunnett, J. Am. Stat. Assoc. 50 (1955) 1096; Biometrics 20 (1964)
// 482; Genz and Bretz, Computation of Multivariate Normal and t Probabilities
// (2009). Units: pure numbers; intervals in the unit of the estimates. Limits:
// 1 to 40 different comparisons. The lattice costs a second and more from
// eight comparisons on and meets 1e-5 up to eight; beyond, the bound that is
// returned says what was reached.
//
// The tails are computed in the rooms below: joint has the family and its
// ways, network the factors, cells the plane and the sphere, region what all
// of them rest on.
package manyone

import "example.org/bookend/stat/manyone/joint"

// Family is a set of comparisons judged together.
type Family = joint.Family

// Sided says on which side a difference counts.
type Sided = joint.Sided

// The sides. TwoSided is the zero value.
const (
	TwoSided = joint.TwoSided // |T| large
	Upper    = joint.Upper    // T large: intervals are lower bounds
	Lower    = joint.Lower    // T small: intervals are upper bounds
)

// Probability is a tail probability with a bound on its error.
type Probability = joint.Probability

// Interval is a simultaneous interval in the unit of the estimates.
type Interval = joint.Interval

// MaxComparisons is the largest number of different comparisons.
const MaxComparisons = joint.MaxComparisons

// DefaultTol is the absolute error of a probability that the lattice rule aims
// at.
const DefaultTol = joint.DefaultTol
