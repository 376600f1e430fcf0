// Package notices is the subcommand that prints the licences of the libraries that are
// part of downlock. Its test writes them down from the module cache: see update_test.go.
package notices

import (
	_ "embed"
	"io"

	"github.com/spf13/pflag"

	"downlock/cmd/downlock/command"
	"downlock/report/output"
)

//go:embed notices.txt
var text string

const noticesHelp = `usage: downlock notices

Prints the libraries that are part of downlock, with their versions and licences.

exit codes: 0 done, 2 usage, 4 the text could not be written
`

// Command runs notices and returns the exit code.
func Command(args []string, stdout, stderr io.Writer) int {
	say := command.Messages{To: stderr}
	flags := pflag.NewFlagSet("notices", pflag.ContinueOnError)
	if code, done := command.ParseFlags(flags, args, noticesHelp, stdout, stderr); done {
		return code
	}
	if flags.NArg() > 0 {
		say.Error("notices takes no argument " + command.Quote(flags.Arg(0)))
		say.Hint("`downlock notices` prints all of them")
		return command.ExitUsage
	}
	if _, err := io.WriteString(stdout, text); err != nil {
		say.Failure(&output.Error{Path: "standard output", Err: err})
		return command.ExitOutput
	}
	return command.ExitDone
}
