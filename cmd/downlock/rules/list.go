package rules

import (
	"fmt"
	"io"
	"slices"
	"strings"
	"text/tabwriter"

	"downlock/detect"
	"downlock/schemas"
)

// listRules lists the rules by group.
func listRules(to io.Writer, set *detect.RuleSet) {
	listByGroup(to, set.Rules, func(r *detect.Rule) (group string, cells []string) {
		return r.Group, []string{r.ID, r.Title, r.Origin()}
	})
}

// listByGroup lists entries as lines of cells under the headings of their groups. The
// groups are in the order of their first entries.
func listByGroup[T any](to io.Writer, entries []T, describe func(T) (group string, cells []string)) {
	var groups []string
	lines := map[string][]string{}
	for _, e := range entries {
		group, cells := describe(e)
		if lines[group] == nil {
			groups = append(groups, group)
		}
		for i := range cells {
			cells[i] = oneLine(cells[i])
		}
		lines[group] = append(lines[group], "  "+strings.Join(cells, "\t"))
	}
	table := tabwriter.NewWriter(to, 0, 0, 2, ' ', 0)
	for i, g := range groups {
		if i > 0 {
			fmt.Fprintln(table)
		}
		fmt.Fprintln(table, oneLine(g))
		fmt.Fprintln(table, strings.Join(lines[g], "\n"))
	}
	table.Flush()
}

// explainRule writes everything that a pack says about a rule. w is the warning that a
// rule of an audit is about, nil for other rules.
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
		item("required", w.Required)
		item("may be silenced", w.MayBeSilenced)
		item("silenced", w.Silenced)
		item("sounded", w.Sounded)
		item("tolerated", w.Tolerated)
		item("delay", w.Delay)
	} else if r.At == "" {
		item("lasting", fmt.Sprintf("at least %g s; spans less than %g s apart are one event", r.AtLeast, r.MergeGap))
	}
	if r.AlsoPossible {
		item("certainty", "also reported when only possible: true in at least one history that the samples allow")
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
	for _, c := range schemas.Criteria() {
		if slices.Contains(r.Requires, c.Name) && c.Default != "" && (r.Audit == nil || c.Lenient) {
			item("usual criteria", c.Name+" is "+c.Default+", where the profile gives none")
		}
	}
	item("systems", strings.Join(r.Systems, ", "))
	item("opportunity", string(r.Opportunity))
	item("follows from", strings.Join(r.FollowsFrom, ", "))
	item("basis", r.Basis)
	item("caution", r.Caution)
	item("pack", r.Origin())
}
