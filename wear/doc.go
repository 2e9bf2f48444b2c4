// Package wear is the arithmetic of the cylinder trade: lengths and hours as
// types, the features a mechanic measures, verdicts against a maker's table
// of limits, a part's clock and its runs, and the question the whole book
// exists for: does this part wear faster than a normal one for its hours.
//
// The package is pure: it has no clock, no input or output and no state.
// Everything a caller can get wrong is returned as a named error, and no
// result is ever NaN or infinite.
package wear
