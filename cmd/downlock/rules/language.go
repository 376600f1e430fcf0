package rules

import (
	_ "embed"
	"fmt"
	"io"
	"strings"
	"text/tabwriter"

	"downlock/detect"
	"downlock/detect/rulecase"
	"downlock/schemas"
)

// languageIntroduction explains expressions. A test loads the pack in it.
//
//go:embed language.txt
var languageIntroduction string

// writeLanguage writes everything a rule and its cases may be written with. The
// functions and names are listed from the code.
func writeLanguage(to io.Writer, own []schemas.Parameter) {
	names, functions := detect.Language(own)
	io.WriteString(to, languageIntroduction+"\n"+rulecase.Notation)
	fmt.Fprint(to, "\nfunctions\n")
	table := tabwriter.NewWriter(to, 0, 0, 2, ' ', 0)
	for _, f := range functions {
		fmt.Fprintf(table, "  %s\t%s\n", f.Usage, f.Meaning)
	}
	table.Flush()
	fmt.Fprint(to, "\nnames\n")
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
