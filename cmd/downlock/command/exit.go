// Package command holds the parts that the subcommands of downlock share: exit codes,
// flags, messages, result lines, and the reading and writing of files that several of
// them name.
package command

// Version is printed by --version and written into every report. We change
// it by hand when downlock finds or writes something else.
const Version = "0.1.0"

// Exit codes, the same for every subcommand.
const (
	ExitDone         = 0 // everything was done
	ExitInputsFailed = 1 // some inputs failed, the rest is done
	ExitUsage        = 2 // the command line is wrong, nothing was done
	ExitInvalid      = 3 // the profile, a rule pack or a key is invalid, nothing was done
	ExitOutput       = 4 // the output or the archive could not be written
	ExitLocked       = 5 // another run uses the archive, nothing was done
	ExitEvents       = 6 // all done, and there are events as --fail-on asks
	ExitAlert        = 7 // all done, and an indicator of trend is at an alert level
	// some inputs failed, the rest is done, and there are events as --fail-on asks
	ExitInputsFailedEvents = 8
	ExitSignal             = 128 // plus the number of the signal that stopped the run; finished inputs are kept
)
