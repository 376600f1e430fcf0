package command

import (
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/pflag"

	"downlock/detect"
	"downlock/schemas"
)

// ParseFlags parses the flags of a subcommand, and takes those that are not given from the
// environment and the settings file. done is true when the command ends here with the
// code, because the user asked for help or something is wrong.
func ParseFlags(flags *pflag.FlagSet, args []string, help string, stdout, stderr io.Writer) (code int, done bool) {
	flags.SetOutput(io.Discard) // we write the messages
	flags.SortFlags = false
	flags.Usage = func() {}
	flags.String(configFlag, "", "")
	help += fmt.Sprintf(settingsHelp, variable(flags.Name(), "FLAG"))
	if q, asked := stdout.(*question); asked {
		q.flags, q.help = flags, help
		return ExitDone, true
	}
	say := Messages{stderr}
	switch err := flags.Parse(args); {
	case errors.Is(err, pflag.ErrHelp):
		io.WriteString(stdout, help)
		return ExitDone, true
	case err != nil:
		say.Error(err.Error())
		say.Hint(nearFlag(flags, err, "`downlock "+flags.Name()+" --help` lists the flags"))
		return ExitUsage, true
	}
	if code := applySettings(flags, say); code != ExitDone {
		return code, true
	}
	for _, name := range onDisk {
		if f := flags.Lookup(name); f != nil && schemas.IsObject(strings.TrimPrefix(f.Value.String(), "[")) { // [ of several
			say.Error("--" + name + " " + Quote(f.Value.String()) + " is in an object store, from which only inputs can be read")
			say.Hint("name a place on a disk")
			return ExitUsage, true
		}
	}
	return ExitDone, false
}

// onDisk are the flags of files and folders.
var onDisk = []string{"aerodromes", "archive", "deidentify", "fleet", "metrics", "out", "output", "profile", "quarantine", "reports", "rules", "run", "summary"}

// nearFlag returns a hint for an error of the command line that begins with the nearest
// flag where the error is that there is no such one.
func nearFlag(flags *pflag.FlagSet, err error, hint string) string {
	var unknown *pflag.NotExistError
	if !errors.As(err, &unknown) || unknown.GetSpecifiedShortnames() != "" {
		return hint
	}
	if near := schemas.Suggest(unknown.GetSpecifiedName(), flagNames(flags)); near != "" {
		return strings.Replace(near, "did you mean ", "did you mean --", 1) + " " + hint
	}
	return hint
}

func flagNames(flags *pflag.FlagSet) (names []string) {
	flags.VisitAll(func(f *pflag.Flag) { names = append(names, f.Name) })
	return names
}

// Typed reports whether a flag stands on the command line. A flag that the settings give
// is Changed, too, but may be one that this use of the subcommand has no need of.
func Typed(f *pflag.Flag) bool { return f.Changed && f.Annotations[origin] == nil }

// Severities lists the severities of events in rising order, in the words of flags.
var Severities = []string{string(detect.Low), string(detect.Medium), string(detect.High)}
