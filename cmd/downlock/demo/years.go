package demo

import (
	"fmt"
	"io"
	"os"

	"downlock/cmd/downlock/command"
	"downlock/report/archive"
	"downlock/report/output"
	"downlock/report/trend/fleet"
)

// The fleet of --years: six flights a day with each aircraft.
const (
	aircraft       = 8
	flightsPerYear = 6 * 365 * aircraft
	fewestYears    = 2 // trend compares two
	mostYears      = 10
)

// yearsFleet returns the invented fleet. The months end with 2032, so that the last year
// is the same one whatever their number is.
func yearsFleet(years int) fleet.Fleet {
	return fleet.Fleet{Seed: 12, Flights: years * flightsPerYear, Months: 12 * years, First: fmt.Sprintf("%d-01", 2033-years), Aircraft: aircraft, Rules: 45, Causes: 25}
}

// writeYears writes the archive of an invented fleet, and says what is wrong in it.
func writeYears(dir string, years int, stdout io.Writer, say command.Messages) int {
	if years < fewestYears || years > mostYears {
		say.Error(fmt.Sprintf("--years %d: it takes %d to %d", years, fewestYears, mostYears))
		return command.ExitUsage
	}
	if entries, err := os.ReadDir(dir); err == nil && len(entries) > 0 {
		say.Error(dir + " is not empty")
		say.Hint("name a folder that does not exist yet: real and invented flights are never mixed in one archive")
		return command.ExitUsage
	}
	f := yearsFleet(years)
	say.Note(fmt.Sprintf("writing an archive of %d years: %d invented flights of %d aircraft", years, f.Flights, aircraft))
	truth, err := f.Truth()
	if err == nil {
		err = f.Write(dir)
	}
	if err == nil {
		err = archive.Adopt(dir, true) // whatever is in it is invented
	}
	if err != nil {
		say.Failure(&output.Error{Path: dir, Err: err})
		return command.ExitOutput
	}
	say.Note(fmt.Sprintf("for trend to find: %s becomes more frequent in the last 18 months; %s has too many events of %s in the last year, and its %s grows; %s is seasonal",
		truth.DriftRule, truth.Aircraft, truth.AircraftRule, truth.SlowLeg, truth.SeasonRule))
	say.Hint("`downlock trend --archive " + dir + " --out trends` and `downlock desk --archive " + dir + "`")
	if _, err := fmt.Fprintln(stdout, dir); err != nil {
		say.Failure(&output.Error{Path: "standard output", Err: err})
		return command.ExitOutput
	}
	return command.ExitDone
}
