package command

import (
	"bytes"
	"io"
	"strings"

	"github.com/spf13/pflag"

	"downlock/schemas"
)

// Run runs a subcommand with its arguments and returns the exit code.
type Run func(args []string, stdout, stderr io.Writer) int

// Description is a subcommand as completions and manual pages show it.
type Description struct {
	Subcommand
	Help  string // its whole text
	Flags []Flag // in the order of their declaration
}

// Flag is a flag of a subcommand.
type Flag struct {
	Name, Shorthand string
	Value           string   // the word for its value; "" for a switch
	Meaning         string   // as the help has it, on one line
	Choices         []string // all the values there are; nil where they are many
}

// Describe describes a subcommand by its own declaration of flags, which it gets from
// ParseFlags.
func Describe(s Subcommand, run Run) Description {
	var asked question
	run(nil, &asked, io.Discard)
	d := Description{Subcommand: s, Help: asked.help}
	explained := explainedFlags(asked.help)
	asked.flags.VisitAll(func(f *pflag.Flag) {
		flag := explained[f.Name]
		flag.Name, flag.Shorthand, flag.Choices = f.Name, f.Shorthand, f.Annotations[choices]
		d.Flags = append(d.Flags, flag)
	})
	return d
}

// question is the standard output of a subcommand that is asked for its flags:
// ParseFlags answers it and ends the subcommand.
type question struct {
	bytes.Buffer
	flags *pflag.FlagSet
	help  string
}

// flagLine is the first line on a flag in a help text.
var flagLine = schemas.Pattern(`^(?:  -(\w), |      )--([a-z-]+)(?: ([A-Z][A-Z.-]*))?(?: +(\S.*))?$`)

// continued is a further line on a flag: it stands below the meaning.
var continued = schemas.Pattern(`^ {10,}(\S.*)$`)

// explainedFlags reads the parts on flags of a help text, by the names of the flags.
func explainedFlags(help string) map[string]Flag {
	found := map[string]Flag{}
	last := ""
	for line := range strings.Lines(help) {
		line = strings.TrimRight(line, "\n")
		if m := flagLine().FindStringSubmatch(line); m != nil && found[m[2]].Name == "" { // else it is an example
			last = m[2]
			found[last] = Flag{Name: m[2], Shorthand: m[1], Value: m[3], Meaning: strings.Join(strings.Fields(m[4]), " ")}
			continue
		}
		m := continued().FindStringSubmatch(line)
		if last == "" || m == nil {
			last = ""
			continue
		}
		flag := found[last]
		flag.Meaning = strings.TrimSpace(flag.Meaning + " " + strings.Join(strings.Fields(m[1]), " "))
		found[last] = flag
	}
	return found
}

// choices is the annotation of a flag with all its values.
const choices = "choices"

// Choices notes all the values that a flag may have, for completions.
func Choices(flags *pflag.FlagSet, name string, values ...string) {
	flags.SetAnnotation(name, choices, values)
}
