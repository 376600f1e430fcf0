// Command downlock reads recorded-parameter exports from flight recorders,
// finds landing-gear, flap, throttle and warning configuration events in them
// and writes a report for every flight.
//
// Each subcommand is a package below, with its flags and its help. The package command
// holds the parts that they share.
package main

import (
	"fmt"
	"io"
	"os"
	"strings"

	"downlock/cmd/downlock/columns"
	"downlock/cmd/downlock/command"
	"downlock/cmd/downlock/completion"
	"downlock/cmd/downlock/demo"
	"downlock/cmd/downlock/desk"
	"downlock/cmd/downlock/inspect"
	"downlock/cmd/downlock/manual"
	"downlock/cmd/downlock/notices"
	"downlock/cmd/downlock/prune"
	"downlock/cmd/downlock/review"
	"downlock/cmd/downlock/rules"
	"downlock/cmd/downlock/scan"
	"downlock/cmd/downlock/topics"
	"downlock/cmd/downlock/trend"
	"downlock/cmd/downlock/verify"
	"downlock/schemas"
)

func main() {
	command.SetCollector()
	os.Exit(run(os.Args[1:], os.Stdout, os.Stderr))
}

// runs has the function of each subcommand. Completion and man, which need the
// descriptions of all, have here the one that says their flags.
var runs = map[string]command.Run{
	"scan":    scan.Command,
	"inspect": inspect.Command,
	"columns": columns.Command,
	"demo":    demo.Command,
	"rules":   rules.Command,
	"trend":   trend.Command,
	"review": func(args []string, stdout, stderr io.Writer) int {
		return review.Command(args, os.Stdin, stdout, stderr)
	},
	"verify":     verify.Command,
	"desk":       desk.Command,
	"prune":      prune.Command,
	"plan":       scan.PlanCommand,
	"merge":      scan.MergeCommand,
	"notices":    notices.Command,
	"completion": completion.Describe,
	"man":        manual.Describe,
}

// described describes all subcommands.
func described() (all []command.Description) {
	for _, s := range command.Subcommands {
		all = append(all, command.Describe(s, runs[s.Name]))
	}
	return all
}

const helpBegin = `downlock finds landing-gear, flap, throttle and warning configuration events in
flight-recorder exports.

usage:
`

const helpEnd = `  downlock --version
  downlock SUBCOMMAND --help       flags, defaults and examples
  downlock help TOPIC              the reference; the topics are below

a first look:
  downlock demo demo
  downlock scan --out reports demo
  then open reports/index.html

settings that stay the same, from the weakest to the strongest:
  a file         --config FILE, else the file that DOWNLOCK_CONFIG names, else
                 downlock.yaml in the working folder; it has a part for each
                 subcommand, with an entry for each flag:
                   schema: downlock settings 1
                   scan:
                     profile: my-type.yaml
                     rules: [my-limits.yaml]
                   trend:
                     archive: fleet
  environment    DOWNLOCK_SCAN_OUT=DIR is scan --out DIR; several values of one flag
                 are separated as in PATH
  command line   flags
A stronger setting replaces all values of a weaker one. A name that is no flag is
refused. Relative paths start at the working folder, also those in a file.

`

const caution = `
Results support a monitoring programme. They are no airworthiness decision, no
maintenance release and no finding about a person.
`

// run is the whole command. Results go to stdout, messages to stderr.
func run(args []string, stdout, stderr io.Writer) int {
	say := command.Messages{To: stderr}
	if len(args) == 0 {
		io.WriteString(stderr, help())
		return command.ExitUsage
	}
	switch args[0] {
	case "completion":
		return completion.Command(described(), args[1:], stdout, stderr)
	case "man":
		return manual.Command(help(), described(), args[1:], stdout, stderr)
	case "--help", "-h", "help":
		if len(args) > 1 && args[0] == "help" {
			return topics.Command(args[1:], stdout, stderr)
		}
		io.WriteString(stdout, help())
		return command.ExitDone
	case "--version":
		io.WriteString(stdout, "downlock "+command.Build()+"\n")
		return command.ExitDone
	}
	if run, known := runs[args[0]]; known {
		return run(args[1:], stdout, stderr)
	}
	say.Error("unknown subcommand " + command.Quote(args[0]))
	names := command.SubcommandNames()
	hint := schemas.Suggest(args[0], names)
	if hint == "" {
		hint = "use one of " + strings.Join(names, ", ") + ";"
	}
	say.Hint(hint + " `downlock --help` says what each does")
	return command.ExitUsage
}

// help returns the text of --help.
func help() string {
	var b strings.Builder
	b.WriteString(helpBegin)
	for _, s := range command.Subcommands {
		fmt.Fprintf(&b, "  %-32s %s\n", strings.TrimSpace("downlock "+s.Name+" "+s.Arguments), s.Summary)
	}
	b.WriteString(helpEnd + topics.List() + caution)
	return b.String()
}
