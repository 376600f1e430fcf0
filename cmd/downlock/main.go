// Command downlock reads recorded-parameter exports from flight recorders,
// finds landing-gear, flap, throttle and warning configuration events in them
// and writes a report for every flight.
//
// The package holds flags, exit codes, progress and messages, one file per
// subcommand. What happens to an input reads in one place: scan.one.
package main

import (
	"io"
	"os"
)

func main() {
	os.Exit(run(os.Args[1:], os.Stdout, os.Stderr))
}

// version is printed by --version and written into every report. It changes by
// hand, with what downlock finds or writes.
const version = "0.1.0"

// Exit codes, the same for every subcommand.
const (
	exitDone         = 0   // everything was done
	exitInputsFailed = 1   // some inputs failed, the rest is done
	exitUsage        = 2   // the command line is wrong, nothing was done
	exitInvalid      = 3   // the profile, a rule pack or a key is invalid, nothing was done
	exitOutput       = 4   // the output or the archive could not be written
	exitLocked       = 5   // another run uses the archive, nothing was done
	exitEvents       = 6   // all done, and there are events as --fail-on asks
	exitSignal       = 128 // and the number of the signal: stopped by it, what was finished is kept
)

const help = `downlock finds landing-gear, flap, throttle and warning configuration events in
flight-recorder exports.

usage:
  downlock scan [flags] INPUT...   read exports, write a report for every flight
  downlock inspect FILE...         what stands in an export; suggest a profile
  downlock demo DIR                write the invented demo exports into DIR
  downlock rules [ID]              list the rules, or explain one
  downlock trend --archive DIR     what is getting worse over months and aircraft
  downlock review --archive DIR    verdicts of analysts on events
  downlock prune --older-than 90d  remove old reports
  downlock --version
  downlock SUBCOMMAND --help       flags, defaults and examples

a first look:
  downlock demo demo
  downlock scan --out reports demo
  then open reports/index.html

exit codes:
  0  done
  1  some inputs failed; the rest is done
  2  the command line is wrong; nothing was done
  3  the profile, a rule pack or a key is invalid; nothing was done
  4  the output or the archive could not be written
  5  another run uses the archive; nothing was done
  6  all done, and there are events as --fail-on asks
  7  all done, and an indicator of trend is at an alert level
  130, 143  stopped by SIGINT or SIGTERM; what was finished is kept

Results support a monitoring programme. They are no airworthiness decision, no
maintenance release and no finding about a person.
`

// run is the whole command. Results go to stdout, messages to stderr.
func run(args []string, stdout, stderr io.Writer) int {
	say := messages{stderr}
	if len(args) == 0 {
		io.WriteString(stderr, help)
		return exitUsage
	}
	switch args[0] {
	case "scan":
		return scanCommand(args[1:], stdout, stderr)
	case "inspect":
		return inspectCommand(args[1:], stdout, stderr)
	case "demo":
		return demoCommand(args[1:], stdout, stderr)
	case "rules":
		return rulesCommand(args[1:], stdout, stderr)
	case "trend":
		return trendCommand(args[1:], stdout, stderr)
	case "review":
		return reviewCommand(args[1:], stdout, stderr)
	case "prune":
		return pruneCommand(args[1:], stdout, stderr)
	case "--help", "-h", "help":
		io.WriteString(stdout, help)
		return exitDone
	case "--version":
		io.WriteString(stdout, "downlock "+version+"\n")
		return exitDone
	}
	say.error("unknown subcommand " + quote(args[0]))
	say.hint("use scan, inspect, demo, rules, trend, review or prune; `downlock --help` says what each does")
	return exitUsage
}
