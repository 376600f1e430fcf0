// Package schemas holds what every other package agrees on: the canonical
// parameters with their units and plausible ranges, the aircraft profile, the
// JSON Schemas of every file downlock reads or writes, and the one error shape
// a user sees.
//
// In go YAML and JSON documents; out come checked Go values, or Problems that
// name file, line and column. The package reads no recording and knows no rule.
package schemas
