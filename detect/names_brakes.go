package detect

import (
	"strings"

	"downlock/detect/language"
	"downlock/detect/readings"
	"downlock/schemas"
)

// addBrakeNames adds the temperature of the hottest brake. No profile says how many
// brakes a type has: those it maps are asked for. While one of them has a gap the hottest
// is unknown.
func addBrakeNames(names map[string]derived) {
	names["hottest_brake"] = derived{
		kind: language.Number, unit: "degC", meaning: "temperature of the hottest recorded brake",
		needs: func(t *Tracks) (missing, fallbacks []string) {
			recorded, absent := t.brakes()
			switch {
			case len(recorded) == 0 && len(absent) == 0:
				return []string{t.absent("brake_temperature_1")}, nil
			case len(recorded) == 0:
				return absent, nil
			case len(absent) > 0:
				return nil, []string{strings.Join(absent, "; ") + partlyNote}
			}
			return nil, nil
		},
		number: func(t *Tracks, within readings.Spans) (hottest readings.Number) {
			recorded, _ := t.brakes()
			for i, name := range recorded {
				n := t.flight.signals.Number(name, within)
				if i > 0 {
					n = readings.Highest(hottest, n)
				}
				hottest = n
			}
			return hottest
		},
	}
}

// brakes lists the parameters of the brakes that are recorded, and says why others that
// the profile maps are not.
func (t *Tracks) brakes() (recorded, absent []string) {
	for _, p := range schemas.Parameters() {
		if !strings.HasPrefix(p.Name, "brake_temperature_") {
			continue
		}
		if t.flight.signals.Has(p.Name) {
			recorded = append(recorded, p.Name)
		} else if len(t.flight.Profile.Columns[p.Name]) > 0 {
			absent = append(absent, t.absent(p.Name))
		}
	}
	return recorded, absent
}
