// Command downlock reads recorded-parameter exports from flight recorders,
// finds landing-gear, flap, throttle and warning configuration events in them
// and writes a report for every flight.
//
// Each subcommand is a package below, with its flags and its help. The package command
// holds the parts that they share.
package main

import (
	"io"
	"os"

	"downlock/cmd/downlock/columns"
	"downlock/cmd/downlock/command"
	"downlock/cmd/downlock/demo"
	"downlock/cmd/downlock/desk"
	"downlock/cmd/downlock/inspect"
	"downlock/cmd/downlock/prune"
	"downlock/cmd/downlock/review"
	"downlock/cmd/downlock/rules"
	"downlock/cmd/downlock/scan"
	"downlock/cmd/downlock/topics"
	"downlock/cmd/downlock/trend"
	"downlock/cmd/downlock/verify"
)

func main() {
	os.Exit(run(os.Args[1:], os.Stdout, os.Stderr))
}

const help = `downlock finds landing-gear, flap, throttle and warning configuration events in
flight-recorder exports.

usage:
  downlock scan [flags] INPUT...   read exports, write a report for every flight
  downlock inspect FILE...         what stands in an export; suggest a profile
  downlock columns INPUT --out F   parameters as understood, for pandas, DuckDB and R
  downlock demo DIR                write the invented demo exports into DIR
  downlock rules [ID]              list the rules, or explain one
  downlock trend --archive DIR     what is getting worse over months and aircraft
  downlock review --archive DIR    verdicts of analysts on events, actions
  downlock verify --archive DIR    what in an archive is damaged or missing; mend it
  downlock desk --archive DIR      a web page to review the archive at
  downlock prune --older-than 90d  remove old reports
  downlock plan --tasks N INPUT... a scan for many machines; merge --run RUN ends it
  downlock --version
  downlock SUBCOMMAND --help       flags, defaults and examples
  downlock help TOPIC              the reference; the topics are below

a first look:
  downlock demo demo
  downlock scan --out reports demo
  then open reports/index.html

`

const caution = `
Results support a monitoring programme. They are no airworthiness decision, no
maintenance release and no finding about a person.
`

// run is the whole command. Results go to stdout, messages to stderr.
func run(args []string, stdout, stderr io.Writer) int {
	say := command.Messages{To: stderr}
	if len(args) == 0 {
		io.WriteString(stderr, help+topics.List()+caution)
		return command.ExitUsage
	}
	switch args[0] {
	case "scan":
		return scan.Command(args[1:], stdout, stderr)
	case "plan":
		return scan.PlanCommand(args[1:], stdout, stderr)
	case "merge":
		return scan.MergeCommand(args[1:], stdout, stderr)
	case "inspect":
		return inspect.Command(args[1:], stdout, stderr)
	case "columns":
		return columns.Command(args[1:], stdout, stderr)
	case "demo":
		return demo.Command(args[1:], stdout, stderr)
	case "rules":
		return rules.Command(args[1:], stdout, stderr)
	case "trend":
		return trend.Command(args[1:], stdout, stderr)
	case "review":
		return review.Command(args[1:], os.Stdin, stdout, stderr)
	case "verify":
		return verify.Command(args[1:], stdout, stderr)
	case "desk":
		return desk.Command(args[1:], stdout, stderr)
	case "prune":
		return prune.Command(args[1:], stdout, stderr)
	case "--help", "-h", "help":
		if len(args) > 1 && args[0] == "help" {
			return topics.Command(args[1:], stdout, stderr)
		}
		io.WriteString(stdout, help+topics.List()+caution)
		return command.ExitDone
	case "--version":
		io.WriteString(stdout, "downlock "+command.Version+"\n")
		return command.ExitDone
	}
	say.Error("unknown subcommand " + command.Quote(args[0]))
	say.Hint("use scan, inspect, columns, demo, rules, trend, review, desk, verify, prune, plan or merge; `downlock --help` says what each does")
	return command.ExitUsage
}
