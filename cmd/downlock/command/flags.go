package command

import (
	"errors"
	"io"

	"github.com/spf13/pflag"

	"downlock/detect"
)

// ParseFlags parses a subcommand's flags. done says that the command ends here
// with the code, because help was asked for or a flag is wrong.
func ParseFlags(flags *pflag.FlagSet, args []string, help string, stdout, stderr io.Writer) (code int, done bool) {
	flags.SetOutput(io.Discard) // messages are ours
	flags.SortFlags = false
	flags.Usage = func() {}
	switch err := flags.Parse(args); {
	case errors.Is(err, pflag.ErrHelp):
		io.WriteString(stdout, help)
		return ExitDone, true
	case err != nil:
		say := Messages{stderr}
		say.Error(err.Error())
		say.Hint("`downlock " + flags.Name() + " --help` lists the flags")
		return ExitUsage, true
	}
	return ExitDone, false
}

// Severities are the severities of events in rising order, as flags take them.
var Severities = []string{string(detect.Low), string(detect.Medium), string(detect.High)}
