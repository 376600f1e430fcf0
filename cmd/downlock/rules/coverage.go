package rules

import (
	"fmt"
	"io"
	"strings"

	"downlock/detect"
)

// writeCoverage lists the configuration events among the examples of EASA GM2
// ORO.AOC.130. Below each it lists the rules that find it, or the reason why none does.
// Rules whose basis names the guidance, but that find none of the examples, follow, and
// then the ordinary operations.
func writeCoverage(to io.Writer, set *detect.RuleSet) {
	listed := map[string]bool{}
	fmt.Fprint(to, "example events of EASA GM2 ORO.AOC.130 that are configuration events\n\n")
	for _, g := range detect.Guidance() {
		for _, id := range g.Rules {
			listed[id] = true
		}
		writeWrapped(to, 0, fmt.Sprintf("%s (%s)", g.Example, sourceInWords(g)))
		if len(g.Rules) > 0 {
			writeWrapped(to, 2, "rules: "+strings.Join(g.Rules, ", "))
		} else {
			writeWrapped(to, 2, "no rule")
		}
		if g.Note != "" {
			writeWrapped(to, 2, g.Note)
		}
	}
	for _, r := range set.Rules {
		if strings.Contains(r.Basis, "GM2 ORO.AOC.130") && !listed[r.ID] {
			writeWrapped(to, 0, "named only in the basis of a rule: "+r.ID)
		}
	}
	fmt.Fprint(to, "\nordinary operations, with the scenario that flies each and the cases that test it by hand\n\n")
	for i, o := range detect.OrdinaryOperations() {
		writeOperation(to, i+1, o)
	}
}

func writeOperation(to io.Writer, row int, o detect.OrdinaryOperation) {
	result := "right"
	if n := len(o.Faults); n > 0 {
		result = fmt.Sprintf("%d known faults", n)
	}
	writeWrapped(to, 0, fmt.Sprintf("%d %s: %s", row, o.Operation, result))
	writeWrapped(to, 2, "scenario: "+o.Scenario)
	for _, c := range o.Cases {
		writeWrapped(to, 2, "case: "+c)
	}
	for _, f := range o.Faults {
		writeWrapped(to, 2, "not right: "+f.Fault+" ("+f.Why+")")
	}
}

func sourceInWords(g detect.GuidanceExample) string {
	if g.Source == "memory" {
		return "from memory"
	}
	return g.Source
}
