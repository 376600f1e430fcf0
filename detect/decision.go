package detect

import (
	"strings"

	"downlock/schemas"
)

// The ends of the reasons why a rule cannot be evaluated that a profile can remedy.
const (
	noValue     = ": the profile gives no such value"
	noTable     = ": the profile gives no such table"
	noCriterion = ": the profile gives no such criterion"
	noDetents   = "the profile gives no flap detents (flaps)"
	noThrottle  = "the profile does not say when a throttle is retarded (throttle)"
	noSystem    = "the type has no "
)

// Decision returns the entry of a profile that would remedy a reason of
// Evaluation.Missing: the name of a value, table or criterion, "flaps", "throttle", or
// "systems". ok is false for a reason that no entry remedies, such as a parameter that is
// not recorded. A profile that lists its systems has
// decided about them.
func Decision(reason string, p *schemas.Profile) (entry string, ok bool) {
	for _, end := range []string{noValue, noTable, noCriterion} {
		if name, found := strings.CutSuffix(reason, end); found {
			return name, true
		}
	}
	switch {
	case reason == noDetents:
		return "flaps", true
	case reason == noThrottle:
		return "throttle", true
	}
	if strings.HasPrefix(reason, noSystem) && p.Systems == nil {
		return "systems", true
	}
	return "", false
}
