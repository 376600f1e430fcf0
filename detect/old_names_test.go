package detect

import (
	"strings"
	"testing"
)

// A pack of an earlier version means the same with the names of then, and says which they are.
func TestPackWithOldNames(t *testing.T) {
	t.Parallel()
	pack := packHead + `warnings:
  - {warning: takeoff_warning, title: t, REQUIRED: TAKEOFF and airborne, sounded: takeoff_configuration_warning, delay: 2}
rules:
  - {id: trimmed, title: t, meaning: m, when: airborne and TRIM > 5, trace: [TRIM], optional: [TRIM], severity: {always: low}, basis: b}
`
	read := func(words ...string) *RuleSet {
		set, err := ParseRules("pack.yaml", []byte(strings.NewReplacer(words...).Replace(pack)))
		if err != nil {
			t.Fatal(err)
		}
		return set
	}
	now := read("REQUIRED", "required", "TAKEOFF", "takeoff_warning_required", "TRIM", "stabiliser_trim")
	old := read("REQUIRED", "due", "TAKEOFF", "takeoff_warning_due", "TRIM", "stabilizer_trim")
	for i, set := range []*RuleSet{now, old} {
		r := set.Rules[0]
		alike(t, "trace, optional, requires", []any{r.Trace, r.Optional, set.Warnings[0].names()}, []any{now.Rules[0].Trace, now.Rules[0].Optional, now.Warnings[0].names()})
		alike(t, "notes", len(set.OldNames), 2*i)
	}
	alike(t, "the present name", now.Rules[0].Trace, []string{"stabiliser_trim"})
}
