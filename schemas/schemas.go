// Package schemas holds the definitions every other package uses: the canonical
// parameters with their units and plausible ranges, the aircraft profile, the JSON
// Schemas of every file downlock reads or writes, and the one error shape a user
// sees.
//
// It turns YAML and JSON documents into checked Go values, or into Problems that name
// file, line and column. The package reads no recording and knows no rule.
package schemas
