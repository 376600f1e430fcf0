package report

import (
	"strconv"
	"strings"

	"downlock/detect"
	"downlock/schemas"
)

// leg is a leg's track, with its name.
type leg struct {
	name  string
	track detect.Held
}

// recordedLegs lists the legs with a lock recorded, then the combined indication
// of all legs.
func recordedLegs(result *detect.Result) []leg {
	var legs []leg
	for _, l := range result.Flight.Profile.Legs {
		if h, ok := result.Tracks.Leg(l); ok {
			legs = append(legs, leg{words(l) + " leg", h})
		}
	}
	if h, ok := result.Tracks.Leg(""); ok {
		legs = append(legs, leg{"all legs", h})
	}
	return legs
}

// recordedDoors lists the gear doors that are recorded, with their names.
func recordedDoors(result *detect.Result) []leg {
	var doors []leg
	for _, p := range result.Tracks.Recorded() {
		name := p.Parameter.Name
		which, isDoor := strings.CutSuffix(name, "gear_door_closed")
		if h, ok := result.Tracks.Parameter(name); ok && isDoor {
			if which == "" {
				which = "all"
			}
			doors = append(doors, leg{words(strings.TrimSuffix(which, "_")) + " doors", h})
		}
	}
	return doors
}

// doorBoxes shows where a door is open: a closed one is the usual state.
func doorBoxes(closed detect.Held) []box {
	return heldBoxes(closed, func(i int, _ string) (class, text string) {
		if i == 0 {
			return "neutral", "open"
		}
		return offClass, ""
	})
}

// flapBoxes names the detents and shades them: the further out, the darker.
func flapBoxes(flap detect.Held) []box {
	steps := len(flap.Values) - 1
	return heldBoxes(flap, func(i int, name string) (class, text string) {
		if i == 0 {
			return offClass, name
		}
		return "flap" + strconv.Itoa(1+(i-1)*3/max(steps-1, 1)), name
	})
}

// heightTrack is the number drawn as height, in feet.
type heightTrack struct {
	parameter      string // "" where none is recorded
	name, unit     string
	aboveAerodrome bool      // measured from the aerodromes, not as recorded
	references     []float64 // times at which it begins to be measured from another aerodrome
}

// flightHeight is the height to draw: that above the aerodrome, or where there is
// none, radio or pressure altitude as recorded.
func flightHeight(result *detect.Result) heightTrack {
	if result.Tracks.HasHeight() {
		return heightTrack{"height", "height above", "aerodrome, ft", true, result.Tracks.HeightReferences()}
	}
	for _, name := range []string{"radio_altitude", "pressure_altitude"} {
		if result.Tracks.Has(name) {
			return heightTrack{name, words(name), "ft", false, nil}
		}
	}
	return heightTrack{}
}

// ruleText is every text in which a rule names its parameters.
func ruleText(rule *detect.Rule) string {
	texts := []string{rule.When, rule.At, rule.ContinuesWhile}
	texts = append(append(texts, rule.Requires...), rule.Trace...)
	return strings.Join(texts, " ")
}

// usedParameters lists the recorded parameters a rule names, in vocabulary order.
func usedParameters(rule *detect.Rule, tracks *detect.Tracks) []schemas.Parameter {
	named := map[string]bool{}
	for _, word := range strings.FieldsFunc(ruleText(rule), func(r rune) bool {
		return !(r == '_' || r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9')
	}) {
		named[word] = true
	}
	var used []schemas.Parameter
	for _, p := range tracks.Parameters() {
		if named[p.Name] && tracks.Has(p.Name) {
			used = append(used, p)
		}
	}
	return used
}
