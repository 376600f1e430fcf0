package inspect

import (
	"fmt"
	"maps"
	"strings"

	"downlock/cmd/downlock/command"
	"downlock/detect"
	"downlock/ingest"
	"downlock/schemas"
)

// openDecisions groups the entries the profile still lacks by the rules they open.
// Rules that also lack something no entry remedies, such as a parameter, are left out.
func (i *inspection) openDecisions(r *ingest.Recording, rules []rulePart) ([]group, error) {
	// A criterion may use values that are missing too. Those of the demonstration stand
	// in, to see which.
	shipped, err := schemas.ShippedProfile()
	if err != nil {
		return nil, err
	}
	filled := *i.profile
	filled.Criteria = maps.Clone(shipped.Criteria)
	maps.Copy(filled.Criteria, i.profile.Criteria)
	detector, err := detect.New(&filled, i.rules)
	if err != nil {
		return nil, err
	}
	needs := map[string][]string{}
	for n, withCriteria := range ruleParts(detector.Detect(r)) {
		if rules[n].Evaluable {
			continue
		}
		entries, remedied := []string{}, true
		for _, reason := range joined(rules[n].Missing, withCriteria.Missing) {
			entry, ok := detect.Decision(reason, i.profile)
			entries, remedied = append(entries, entry), remedied && ok
		}
		if remedied && len(entries) > 0 {
			needs[rules[n].Rule] = entries
		}
	}
	return grouped(needs), nil
}

// told says what a group is worth: filling these 4 opens 12 rules.
func (g group) told() string {
	these := fmt.Sprintf("these %d", len(g.Fill))
	if len(g.Fill) == 1 {
		these = "this one"
	}
	return fmt.Sprintf("filling %s opens %s", these, command.Count(len(g.Opens), "rule"))
}

func (m *mappingPart) writeDecisions(b *strings.Builder) {
	if len(m.Open) == 0 {
		if m.Note == "" {
			b.WriteString("\nno decision is open: every rule that these columns allow can be evaluated or had no opportunity\n")
		}
		return
	}
	b.WriteString("\nopen decisions, the most rewarding first (a rule your type has no use for is switched off in a pack, --rules):\n")
	for _, g := range m.Open {
		fmt.Fprintf(b, "  %s: %s\n    %s\n", g.told(), strings.Join(g.Opens, ", "), strings.Join(g.Fill, ", "))
	}
}
