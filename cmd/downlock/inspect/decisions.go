package inspect

import (
	"fmt"
	"maps"
	"regexp"
	"strings"

	"downlock/cmd/downlock/command"
	"downlock/detect"
	"downlock/ingest"
	"downlock/schemas"
)

// openDecisions groups the entries the profile still lacks by the rules they open.
// Rules that also lack something no entry remedies, such as a parameter, are left out.
func (i *inspection) openDecisions(r *ingest.Recording, rules []rulePart) ([]group, error) {
	if len(rules) == 0 { // no flight
		return nil, nil
	}
	shipped, err := schemas.ShippedProfile()
	if err != nil {
		return nil, err
	}
	// A rule about a system the type may have does not say what else it lacks, and a
	// criterion that is missing not what it would use. So all systems stand in, and then
	// also the criteria of the demonstration.
	filled := *i.profile
	if filled.Systems == nil {
		for _, rule := range i.rules.Rules {
			filled.Systems = append(filled.Systems, rule.Systems...)
		}
	}
	missing := make([][]string, len(rules))
	for _, criteria := range []map[string]string{nil, shipped.Criteria} {
		filled.Criteria = map[string]string{}
		maps.Copy(filled.Criteria, criteria)
		maps.Copy(filled.Criteria, i.profile.Criteria)
		detector, err := detect.New(&filled, i.rules)
		if err != nil {
			return nil, err
		}
		for n, one := range ruleParts(detector.Detect(r)) {
			missing[n] = joined(missing[n], one.Missing)
		}
	}
	needs := map[string][]string{}
	for n, rule := range rules {
		entries, remedied := []string{}, !rule.Evaluable
		for _, reason := range joined(missing[n], rule.Missing) {
			entry, ok := detect.Decision(reason, i.profile)
			entries, remedied = append(append(entries, entry), i.usedBy(entry, shipped)...), remedied && ok
		}
		if remedied && len(entries) > 0 {
			needs[rule.Rule] = entries
		}
	}
	return grouped(needs), nil
}

var words = regexp.MustCompile(`\w+`)

// usedBy returns the criteria the profile lacks that the demonstration's text of a
// criterion uses.
func (i *inspection) usedBy(criterion string, shipped *schemas.Profile) (used []string) {
	for _, word := range words.FindAllString(shipped.Criteria[criterion], -1) {
		if shipped.Criteria[word] != "" && i.profile.Criteria[word] == "" && word != criterion {
			used = append(append(used, word), i.usedBy(word, shipped)...)
		}
	}
	return used
}

// told says what a group is worth: filling these 4 opens 12 rules.
func (g group) told() string {
	these := fmt.Sprintf("these %d", len(g.Fill))
	if len(g.Fill) == 1 {
		these = "this one"
	}
	return fmt.Sprintf("filling %s makes %s evaluable", these, command.Count(len(g.Opens), "rule"))
}

func (m *mappingPart) writeDecisions(b *strings.Builder) {
	if len(m.Open) == 0 {
		if m.Note == "" {
			b.WriteString("\nno decision is open: every rule for which the columns are there can be evaluated or had no opportunity\n")
		}
		return
	}
	b.WriteString("\nopen decisions, those that most rules need first (to switch off a rule that your type does not need, use a pack with --rules):\n")
	for _, g := range m.Open {
		fmt.Fprintf(b, "  %s: %s\n    %s\n", g.told(), strings.Join(g.Opens, ", "), strings.Join(g.Fill, ", "))
	}
}
