// Package rules is the subcommand that lists, explains, tries and tests rules.
package rules

import (
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"github.com/spf13/pflag"

	"downlock/cmd/downlock/command"
	"downlock/detect"
	"downlock/schemas"
)

const rulesHelp = `usage: downlock rules [flags]                       list the rules in force
       downlock rules [flags] ID                    explain a rule
       downlock rules [flags] --measurements [ID]   list the measurements, or explain one
       downlock rules [flags] ID --try RECORDING    show why it found what it found
       downlock rules [flags] --test FILE...        run rule cases
       downlock rules --language                    the language that rules are written in
       downlock rules --coverage                    the example events of EASA GM2
                                                    ORO.AOC.130 and their rules, and the
                                                    ordinary operations that are tested

The list gives the id, title and packs of each rule, by group. --try shows each part of
the rule's condition: where in the flight it holds nominally, certainly and possibly,
and which samples are missing. --test runs files of cases: short sampled series with the
events expected in them. If a case fails, it shows the parts of the rule around the
event that differs. --language shows how to write cases.

flags:
  -r, --rules FILE     rule pack on top of the built-in one; may be repeated
  -p, --profile FILE   for --try and --test: aircraft profile
                       (default the shipped one; --try: for demo data only)
      --try RECORDING  a recording to try the rule on
      --between A..B   for --try: only this part, in seconds on the recording's axis
      --test           the arguments are files of rule cases
      --measurements   measurements in place of rules
      --language       names, units, functions, an example, the lines of a case
      --coverage       the example events of the guidance, and the rules for them

examples:
  downlock rules too-low-gear
  downlock rules --rules my-limits.yaml gear-extension-speed
  downlock rules gear-late --try demo/tarnholm-08.csv.gz --between 2000..3000
  downlock rules --rules my-limits.yaml --test my-cases.txt

exit codes: 0 done, 1 a case failed or the recording could not be read, 2 usage or
unknown rule, 3 a rule pack, profile or file of cases is invalid
`

// rulesOptions are the flags of rules.
type rulesOptions struct {
	packs              []string
	profile            string
	try, between       string
	language, coverage bool
	measurements, test bool
}

// Command runs rules and returns the exit code.
func Command(args []string, stdout, stderr io.Writer) int {
	say := command.Messages{To: stderr}
	var o rulesOptions
	flags := pflag.NewFlagSet("rules", pflag.ContinueOnError)
	flags.StringArrayVarP(&o.packs, "rules", "r", nil, "")
	flags.StringVarP(&o.profile, "profile", "p", "", "")
	flags.StringVar(&o.try, "try", "", "")
	flags.StringVar(&o.between, "between", "", "")
	flags.BoolVar(&o.test, "test", false, "")
	flags.BoolVar(&o.measurements, "measurements", false, "")
	flags.BoolVar(&o.language, "language", false, "")
	flags.BoolVar(&o.coverage, "coverage", false, "")
	if code, done := command.ParseFlags(flags, args, rulesHelp, stdout, stderr); done {
		return code
	}
	if cause, hint := o.contradiction(flags); cause != "" {
		say.Error(cause)
		say.Hint(hint)
		return command.ExitUsage
	}
	set, err := detect.LoadRules(o.packs...)
	if err != nil {
		say.Failure(err)
		return command.ExitInvalid
	}
	say.Notes(set.OldNames)
	switch {
	case o.test:
		return testRules(o, flags.Args(), set, stdout, say)
	case o.language:
		writeLanguage(stdout, set.Own)
	case o.coverage:
		writeCoverage(stdout, set)
	case o.measurements && flags.NArg() == 0:
		listMeasurements(stdout, set)
	case o.measurements:
		m := findMeasurement(set, flags.Arg(0), say)
		if m == nil {
			return command.ExitUsage
		}
		explainMeasurement(stdout, m)
	case flags.NArg() == 0:
		listRules(stdout, set)
	default:
		rule := findRule(set, flags.Arg(0), say)
		switch {
		case rule == nil:
			return command.ExitUsage
		case o.try != "":
			return tryRule(o, rule, set, stdout, say)
		}
		explainRule(stdout, rule, warningOf(rule, set))
	}
	return command.ExitDone
}

// contradiction returns the reason why the flags do not go together, "" when they do.
func (o rulesOptions) contradiction(flags *pflag.FlagSet) (cause, hint string) {
	modes := 0
	for _, on := range []bool{o.test, o.measurements, o.language, o.coverage, flags.Changed("try")} {
		if on {
			modes++
		}
	}
	arguments := flags.NArg()
	switch {
	case modes > 1:
		return "--try, --test, --measurements, --language and --coverage do not go together", "use one of them"
	case o.test && arguments == 0:
		return "--test needs at least one file of rule cases", "try `downlock rules --test my-cases.txt`"
	case o.test:
		return "", ""
	case (o.language || o.coverage) && arguments > 0:
		return "--language and --coverage take no argument", ""
	case arguments > 1:
		return "rules takes one id, or none", "`downlock rules` lists the ids"
	case flags.Changed("try") && (arguments == 0 || o.try == ""):
		return "--try needs the id of a rule and a recording", "try `downlock rules gear-late --try demo/tarnholm-08.csv.gz`"
	case command.Typed(flags.Lookup("between")) && o.try == "":
		return "--between goes with --try", ""
	case command.Typed(flags.Lookup("profile")) && o.try == "":
		return "--profile goes with --try or --test", ""
	}
	if _, err := parseBetween(o.between); err != nil {
		return err.Error(), "write --between 2000..3000, seconds on the recording's time axis"
	}
	return "", ""
}

// parseBetween reads A..B, in seconds. It returns all time for "".
func parseBetween(text string) (detect.Span, error) {
	if text == "" {
		return detect.Span{Start: math.Inf(-1), End: math.Inf(1)}, nil
	}
	from, to, _ := strings.Cut(text, "..")
	a, errA := strconv.ParseFloat(from, 64)
	b, errB := strconv.ParseFloat(to, 64)
	if errors.Join(errA, errB) != nil || !(a < b) {
		return detect.Span{}, fmt.Errorf("--between %s is not a stretch of time", text)
	}
	return detect.Span{Start: a, End: b}, nil
}

func findRule(set *detect.RuleSet, id string, say command.Messages) *detect.Rule {
	rule := set.Rule(id)
	if rule == nil {
		say.Error("there is no rule " + command.Quote(id))
		hint := schemas.Suggest(id, set.IDs())
		if hint == "" {
			hint = "`downlock rules` lists the ids"
		}
		say.Hint(hint)
	}
	return rule
}

// warningOf returns the warning that a rule of an audit is about, nil for other rules.
func warningOf(rule *detect.Rule, set *detect.RuleSet) *detect.Warning {
	if rule.Audit == nil {
		return nil
	}
	return set.Warning(rule.Audit.Warning)
}
