package detect

import (
	"fmt"
	"strings"

	"downlock/detect/language"
	"downlock/detect/readings"
	"downlock/schemas"
)

// addEngineNames adds a name for each discrete that is recorded engine by engine,
// NAME_1 to NAME_4: any_NAME is true where it is true of at least one engine. It
// asks for as many engines as the type has, so that a rule fits every type.
func addEngineNames(names map[string]derived) {
	for _, p := range schemas.Parameters() {
		if base, ok := strings.CutSuffix(p.Name, "_1"); ok && p.Kind == schemas.Discrete {
			names["any_"+base] = anyEngine(base, strings.TrimSuffix(p.Meaning, ", engine 1"))
		}
	}
}

func anyEngine(base, meaning string) derived {
	return derived{
		kind: language.Condition, meaning: meaning + ", at least one engine of the type",
		needs: func(t *Tracks) (missing, fallbacks []string) {
			for _, name := range t.ofEngines(base) {
				if !t.flight.signals.Has(name) {
					missing = append(missing, t.absent(name))
				}
			}
			if t.flight.Profile.Engines == 0 {
				missing = append(missing, "the profile does not say how many engines the type has (engines)")
			}
			return missing, nil
		},
		condition: func(t *Tracks) readings.Condition {
			if t.flight.Profile.Engines == 0 {
				return readings.Unknown(t.windows())
			}
			var engines []readings.Condition
			for _, name := range t.ofEngines(base) {
				engines = append(engines, t.flight.signals.Discrete(name, t.windows()))
			}
			return readings.Some(engines, t.windows())
		},
	}
}

// ofEngines lists a parameter's name for each engine of the type.
func (t *Tracks) ofEngines(base string) (names []string) {
	for i := 1; i <= t.flight.Profile.Engines; i++ {
		names = append(names, fmt.Sprintf("%s_%d", base, i))
	}
	return names
}
