package rules

import (
	"fmt"
	"io"
	"strings"

	"downlock/detect"
)

// writeCoverage lists the configuration events among the examples of EASA GM2
// ORO.AOC.130. Below each it lists the rules that find it, or the reason why none does.
// Rules whose basis names the guidance, but that find none of the examples, come last.
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
			writeWrapped(to, 0, "named in the basis of a rule alone: "+r.ID)
		}
	}
}

func sourceInWords(g detect.GuidanceExample) string {
	if g.Source == "memory" {
		return "from memory"
	}
	return g.Source
}
