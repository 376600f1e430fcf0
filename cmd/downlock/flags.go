package main

import (
	"errors"
	"io"

	"github.com/spf13/pflag"
)

// parseFlags parses a subcommand's flags. done says that the command ends here
// with the code, because help was asked for or a flag is wrong.
func parseFlags(flags *pflag.FlagSet, args []string, help string, stdout, stderr io.Writer) (code int, done bool) {
	flags.SetOutput(io.Discard) // messages are ours
	flags.SortFlags = false
	flags.Usage = func() {}
	switch err := flags.Parse(args); {
	case errors.Is(err, pflag.ErrHelp):
		io.WriteString(stdout, help)
		return exitDone, true
	case err != nil:
		say := messages{stderr}
		say.error(err.Error())
		say.hint("`downlock " + flags.Name() + " --help` lists the flags")
		return exitUsage, true
	}
	return exitDone, false
}
