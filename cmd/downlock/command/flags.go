package command

import (
	"errors"
	"io"

	"github.com/spf13/pflag"

	"downlock/detect"
)

// ParseFlags parses the flags of a subcommand. done is true when the command ends here
// with the code, because the user asked for help or a flag is wrong.
func ParseFlags(flags *pflag.FlagSet, args []string, help string, stdout, stderr io.Writer) (code int, done bool) {
	flags.SetOutput(io.Discard) // we write the messages
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

// Severities lists the severities of events in rising order, in the words of flags.
var Severities = []string{string(detect.Low), string(detect.Medium), string(detect.High)}
