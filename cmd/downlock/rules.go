package main

import (
	"fmt"
	"io"
	"strings"
	"text/tabwriter"

	"github.com/spf13/pflag"

	"downlock/detect"
	"downlock/schemas"
)

const rulesHelp = `usage: downlock rules [flags] [ID]

Lists the rules in force, by group: id, severity, title and the pack it came
from. With an ID, explains that rule: meaning, condition, what it needs, what it
measures, severity, basis and caution.

flags:
  -r, --rules FILE   rule pack on top of the built-in one; may be repeated
      --language     what a rule may be written with: names, units, functions

examples:
  downlock rules
  downlock rules too-low-gear
  downlock rules --rules my-limits.yaml gear-extension-speed

exit codes: 0 done, 2 usage or unknown rule, 3 a rule pack is invalid
`

func rulesCommand(args []string, stdout, stderr io.Writer) int {
	say := messages{stderr}
	var packs []string
	var language bool
	flags := pflag.NewFlagSet("rules", pflag.ContinueOnError)
	flags.StringArrayVarP(&packs, "rules", "r", nil, "")
	flags.BoolVar(&language, "language", false, "")
	if code, done := parseFlags(flags, args, rulesHelp, stdout, stderr); done {
		return code
	}
	if flags.NArg() > 1 || language && flags.NArg() > 0 {
		say.error("rules takes one rule's id, or none")
		say.hint("`downlock rules` lists the ids")
		return exitUsage
	}
	set, err := detect.LoadRules(packs...)
	if err != nil {
		say.failure(err)
		return exitInvalid
	}
	switch {
	case language:
		writeLanguage(stdout)
	case flags.NArg() == 0:
		listRules(stdout, set)
	default:
		rule := set.Rule(flags.Arg(0))
		if rule == nil {
			say.error("there is no rule " + quote(flags.Arg(0)))
			hint := schemas.Suggest(flags.Arg(0), set.IDs())
			if hint == "" {
				hint = "`downlock rules` lists the ids"
			}
			say.hint(hint)
			return exitUsage
		}
		explainRule(stdout, rule)
	}
	return exitDone
}

func listRules(to io.Writer, set *detect.RuleSet) {
	var groups []string
	byGroup := map[string][]*detect.Rule{}
	for _, r := range set.Rules {
		if byGroup[r.Group] == nil {
			groups = append(groups, r.Group)
		}
		byGroup[r.Group] = append(byGroup[r.Group], r)
	}
	table := tabwriter.NewWriter(to, 0, 0, 2, ' ', 0)
	for i, g := range groups {
		if i > 0 {
			fmt.Fprintln(table)
		}
		fmt.Fprintf(table, "%s\n", g)
		for _, r := range byGroup[g] {
			fmt.Fprintf(table, "  %s\t%s\t%s\n", r.ID, r.Title, r.Pack)
		}
	}
	table.Flush()
}

func explainRule(to io.Writer, r *detect.Rule) {
	fmt.Fprintf(to, "%s\n%s\n\n%s\n\n", r.ID, r.Title, r.Meaning)
	item := func(name, text string) {
		if text != "" {
			fmt.Fprintf(to, "%-16s %s\n", name, strings.ReplaceAll(strings.TrimSpace(text), "\n", " "))
		}
	}
	item("at", r.At)
	item("when", r.When)
	item("continues while", r.ContinuesWhile)
	if r.At == "" {
		item("lasting", fmt.Sprintf("at least %g s; spans less than %g s apart are one event", r.AtLeast, r.MergeGap))
	}
	if r.AlsoPossible {
		item("certainty", "also reported when only possible: true in at least one history the samples allow")
	}
	item("severity", r.Severity.String())
	for i, m := range r.Measures {
		name := ""
		if i == 0 {
			name = "measures"
		}
		text := fmt.Sprintf("%s (%s): %s of %s", m.Name, m.Unit, m.Take, m.Of)
		if m.Of == "" {
			text = fmt.Sprintf("%s (%s)", m.Name, m.Unit)
		}
		fmt.Fprintf(to, "%-16s %s\n", name, text)
	}
	item("needs", strings.Join(r.Requires, ", "))
	item("basis", r.Basis)
	item("caution", r.Caution)
	item("pack", r.Pack)
}

func writeLanguage(to io.Writer) {
	names, functions := detect.Language()
	table := tabwriter.NewWriter(to, 0, 0, 2, ' ', 0)
	fmt.Fprint(table, languageIntroduction, "\nfunctions\n")
	for _, f := range functions {
		fmt.Fprintf(table, "  %s\t%s\n", f.Usage, f.Meaning)
	}
	fmt.Fprintln(table, "\nnames\t\t")
	for _, n := range names {
		kind := n.Kind
		if n.Unit != "" {
			kind += ", " + n.Unit
		}
		if len(n.States) > 0 {
			kind += " " + strings.Join(n.States, " ")
		}
		fmt.Fprintf(table, "  %s\t%s\t%s\n", n.Name, kind, n.Meaning)
	}
	table.Flush()
}

const languageIntroduction = `An expression is written in Expr's syntax and holds or not over time.

operators
  and  or  not         connect conditions
  <  <=  >  >=  ==  !=   compare numbers of the same unit; == and != compare a state with a word
  +  -                 add numbers of the same unit
  *  /                 multiply or divide a number by a plain number
`
