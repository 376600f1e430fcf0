package main

import (
	"fmt"
	"io"
	"strings"
	"text/tabwriter"

	"downlock/detect"
)

// listRules lists the rules by group, groups in the order they first come.
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
		fmt.Fprintf(table, "%s\n", oneLine(g))
		for _, r := range byGroup[g] {
			fmt.Fprintf(table, "  %s\t%s\t%s\n", r.ID, oneLine(r.Title), oneLine(r.Origin()))
		}
	}
	table.Flush()
}

// explainRule says all a pack says about a rule. Of a rule about a warning, w is
// that warning.
func explainRule(to io.Writer, r *detect.Rule, w *detect.Warning) {
	fmt.Fprintf(to, "%s\n%s\n\n%s\n\n", r.ID, oneLine(r.Title), oneLine(r.Meaning))
	item := func(name, text string) {
		if text != "" {
			fmt.Fprintf(to, "%-16s %s\n", name, oneLine(text))
		}
	}
	item("at", r.At)
	item("when", r.When)
	item("continues while", r.ContinuesWhile)
	if r.Audit != nil {
		item("audit", fmt.Sprintf("each finding %q about the warning %s (%s)", r.Audit.Finding, w.Name, w.Pack))
		item("due", w.Due)
		item("may be silenced", w.MayBeSilenced)
		item("silenced", w.Silenced)
		item("sounded", w.Sounded)
		item("delay", w.Delay)
	} else if r.At == "" {
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
		fmt.Fprintf(to, "%-16s %s\n", name, oneLine(text))
	}
	item("needs", strings.Join(r.Requires, ", "))
	item("systems", strings.Join(r.Systems, ", "))
	item("basis", r.Basis)
	item("caution", r.Caution)
	item("pack", r.Origin())
}
