// Package readings is the algebra the rules are evaluated in: stretches of
// time on which a condition holds, numbers that run in straight pieces, and
// moments, each carried in three readings.
//
// # The three readings
//
// A recorder samples. Between two samples, and wherever samples are missing,
// the truth is only bounded. Every condition therefore says three things:
//
//   - nominal: the usual reading. A discrete has the value of its last sample;
//     a continuous parameter runs straight from sample to sample.
//   - certain: only where the condition holds in every history that agrees with
//     the samples.
//   - possible: wherever it holds in at least one such history.
//
// A history agrees with the samples when a discrete (or state, or step) changes
// at most once between two samples no further apart than the parameter's gap,
// takes no value there but those of the two samples, and has the recorded value at
// each sample; and when a continuous parameter stays within its accuracy of
// the straight line: the stated one, or one estimated from the samples, which is
// its own at each of them and runs straight between. Across a gap every value is
// possible, and the nominal reading is unknown from one typical interval after the
// last sample before it. At the two ends of a recording the nearest sample is held for
// one typical interval. A sample has a length of a microsecond, so that a value it alone
// shows is certain too. The time before and after the window is
// unknown where it matters (HeldFor, Lasting).
//
// and, or and not work reading by reading, not exchanging certain and possible:
// Kleene's three-valued logic on spans. certain is exact where each parameter
// occurs once in an expression; where one occurs twice it may be smaller than
// the truth, and possible larger, never the other way round.
package readings
