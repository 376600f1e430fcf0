package inspect

import (
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"text/tabwriter"

	"downlock/cmd/downlock/command"
	"downlock/detect"
	"downlock/ingest/survey"
)

// write writes the inspection for people. It makes text from files printable.
func (d *inspectDocument) write(to io.Writer) error {
	var b strings.Builder
	for i, f := range d.Files {
		if i > 0 {
			b.WriteString("\n")
		}
		f.write(&b)
	}
	_, err := io.WriteString(to, command.Printable(b.String()))
	return err
}

func (f *inspectedFile) write(b *strings.Builder) {
	s := f.Survey
	fmt.Fprintf(b, "%s: %s, %s, %s\n", cell(f.Path), s.Format, command.Count(int(s.Bytes), "byte"), command.Count(len(s.Columns), "column"))
	writeTime(b, s)
	fmt.Fprintf(b, "flights   %d likely: %s\n", s.Flights.Likely, cell(s.Flights.Why))
	for _, n := range s.Notes {
		fmt.Fprintf(b, "note      %s\n", cell(n))
	}
	b.WriteString("\n")
	table := tabwriter.NewWriter(b, 0, 0, 2, ' ', 0)
	fmt.Fprintln(table, "column\tunit\tsamples\trate\toffset, s\tblank\tlost\tgaps\tvalues")
	for _, c := range s.Columns {
		fmt.Fprintf(table, "%s\t%s\t%d\t%s\t%s\t%s\t%s\t%s\t%s\n", cell(c.Name), cell(c.Unit), c.Samples, c.RateText(), decimal(c.Offset), percent(c.Blank), percent(c.Lost), gapText(c.Gaps, c.Longest), valueText(c))
	}
	table.Flush()
	if f.Mapping != nil {
		f.Mapping.write(b)
	}
}

func writeTime(b *strings.Builder, s *survey.Survey) {
	t := s.Time
	unit := ""
	if t.Unit != "" {
		unit = " in " + t.Unit
	}
	column := "no column"
	if t.Column != "" {
		column = fmt.Sprintf("column %q", t.Column)
	}
	fmt.Fprintf(b, "time      %s, %s%s: %s\n", column, t.Form, cell(unit), cell(strings.Join(t.Evidence, "; ")))
	if t.Doubt != "" {
		fmt.Fprintf(b, "          check: %s\n", cell(t.Doubt))
	}
	fmt.Fprintf(b, "          %s to %s s in %s, usually %s s apart", decimal(t.Start), decimal(t.End), command.Count(t.Rows, "row"), decimal(t.Interval))
	if s.Epoch != "" {
		fmt.Fprintf(b, "; second 0 is %s", s.Epoch)
	}
	b.WriteString("\n")
	fmt.Fprintf(b, "          gaps %s, steps back %d, jumps %d, repeated times %d", gapText(t.Gaps, t.Longest), t.StepsBack, t.Jumps, t.Repeats)
	if t.Form == "clock" || t.Form == "date and time" {
		fmt.Fprintf(b, ", midnights %d", t.Midnights)
	}
	b.WriteString("\n")
}

// gapText returns the number of gaps, and the longest of them.
func gapText(n int, longest []survey.Gap) string {
	if n == 0 || len(longest) == 0 {
		return strconv.Itoa(n)
	}
	return fmt.Sprintf("%d (longest %s s from %s s)", n, decimal(longest[0].Length), decimal(longest[0].Start))
}

// statesShown is the number of states of a column that are listed.
const statesShown = 6

func valueText(c survey.Column) string {
	switch {
	case c.Samples == 0:
		return "none"
	case len(c.States) > 0 && (len(c.States) <= statesShown || !c.Numeric):
		var shown []string
		for _, s := range c.States[:min(len(c.States), statesShown)] {
			shown = append(shown, fmt.Sprintf("%s (%d)", cell(s.Text), s.Samples))
		}
		if len(c.States) > statesShown {
			shown = append(shown, fmt.Sprintf("… %d more", len(c.States)-statesShown))
		}
		return strings.Join(shown, ", ")
	case !c.Numeric:
		return "many texts"
	}
	text := decimal(c.Smallest) + " to " + decimal(c.Largest)
	if c.AtTop > 0.05 {
		text += fmt.Sprintf(", %s at the largest", percent(c.AtTop))
	}
	if step := decimal(c.Resolution); step != "0" {
		text += ", in steps of " + step
	}
	return text
}

func (m *mappingPart) write(b *strings.Builder) {
	b.WriteString("\n")
	table := tabwriter.NewWriter(b, 0, 0, 2, ' ', 0)
	fmt.Fprintln(table, "parameter\tcolumn\tsamples\tdropped\tinterval, s\tallowed, s")
	for _, p := range m.Parameters {
		allowed := "–"
		if p.LongestInterval > 0 {
			allowed = decimal(p.LongestInterval)
			if !p.Confirmed {
				allowed += "*"
			}
			if p.Slow {
				allowed += " (too slow)"
			}
		}
		fmt.Fprintf(table, "%s\t%s\t%d\t%d\t%s\t%s\n", p.Parameter, cell(p.Column), p.Samples, p.Dropped, decimal(p.Interval), allowed)
	}
	table.Flush()
	b.WriteString("allowed: longest interval of 14 CFR part 121 appendix M; * figure not yet checked against the published text\n")
	for _, a := range m.Absent {
		fmt.Fprintf(b, "not recorded: %s (looked for %s)\n", a.Parameter, cell(strings.Join(a.Columns, ", ")))
	}
	if len(m.Unmapped) > 0 {
		fmt.Fprintf(b, "columns that the profile does not use: %s\n", cell(strings.Join(m.Unmapped, ", ")))
	}
	m.writeChecks(b)
	m.writeRules(b)
	m.writeDecisions(b)
}

func (m *mappingPart) writeChecks(b *strings.Builder) {
	passed, impossible := 0, 0
	for _, c := range m.Checks {
		switch c.Outcome {
		case string(detect.Passed):
			passed++
		case string(detect.Failed):
			fmt.Fprintf(b, "\nconsistency check failed: %s (%s)\n  %s\n  hint: %s\n", cell(c.Title), strings.Join(c.Parameters, ", "), cell(c.Evidence), cell(c.Hint))
		default:
			impossible++
		}
	}
	if len(m.Checks) > 0 {
		fmt.Fprintf(b, "\nconsistency checks of the profile: %d passed, %d failed, %d not possible\n", passed, len(m.Checks)-passed-impossible, impossible)
	}
}

// writeRules counts the rules and lists every reason why rules cannot be evaluated,
// with the rules it holds for.
func (m *mappingPart) writeRules(b *strings.Builder) {
	if m.Note != "" {
		fmt.Fprintf(b, "\nno flight: %s\n", cell(m.Note))
		return
	}
	evaluable, none := 0, 0
	var reasons []string
	needed := map[string][]string{}
	for _, r := range m.Rules {
		if r.Evaluable {
			evaluable++
			continue
		}
		if r.NoOpportunity {
			none++
		}
		for _, reason := range r.Missing {
			if needed[reason] == nil {
				reasons = append(reasons, reason)
			}
			needed[reason] = append(needed[reason], r.Rule)
		}
	}
	fmt.Fprintf(b, "\n%s, %d of %s can be evaluated", command.Count(m.Flights, "flight"), evaluable, command.Count(len(m.Rules), "rule"))
	if none > 0 {
		fmt.Fprintf(b, ", %d have no opportunity in it", none)
	}
	b.WriteByte('\n')
	slices.SortStableFunc(reasons, func(x, y string) int { return len(needed[y]) - len(needed[x]) })
	for _, reason := range reasons {
		fmt.Fprintf(b, "  not evaluable: %s\n    rules: %s\n", cell(reason), strings.Join(needed[reason], ", "))
	}
}

// cell keeps text from a file on one line of a table.
func cell(text string) string {
	return strings.NewReplacer("\t", " ", "\n", " ", "\r", " ").Replace(text)
}

// decimal returns a number with at most four decimals.
func decimal(x float64) string {
	s := strconv.FormatFloat(x, 'f', 4, 64)
	return strings.TrimSuffix(strings.TrimRight(s, "0"), ".")
}

func percent(share float64) string {
	if share > 0 && share < 0.001 {
		return "under 0.1 %"
	}
	return strings.TrimSuffix(strconv.FormatFloat(100*share, 'f', 1, 64), ".0") + " %"
}
