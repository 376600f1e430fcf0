package detect

import (
	"downlock/detect/language"
	"downlock/detect/readings"
)

// addOperatingSpeed adds the operating speed of the gear: one limit to extend it, another
// to retract it.
func addOperatingSpeed(names map[string]derived) {
	names["gear_operating_speed"] = derived{
		kind: language.Number, unit: "kt", meaning: "highest airspeed for the gear to move to the position of the lever (VLO); none with the lever at OFF",
		needs: func(t *Tracks) (missing, fallbacks []string) {
			return t.needs([]string{"gear_lever", "gear_retraction_speed", "gear_extension_speed"})
		},
		number: func(t *Tracks, within readings.Spans) (n readings.Number) {
			n = n.Overlay(t.State("gear_lever", "UP"), t.Number("gear_retraction_speed", within))
			return n.Overlay(t.State("gear_lever", "DOWN"), t.Number("gear_extension_speed", within))
		},
	}
}
