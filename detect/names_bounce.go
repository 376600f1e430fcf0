package detect

import (
	"downlock/detect/language"
	"downlock/detect/readings"
)

// A bounce is a hop of a landing that is no flight (see inFlight). Shorter hops are
// switches at work as the load comes on, later ones bumps of the runway: common practice.
const (
	shortestBounce = 1.0  // s off the wheels
	bouncesWithin  = 10.0 // s after the touchdown, in which the hop begins
)

// addBounceName adds where the aircraft bounces. Without switches on the wheels no
// bounce is seen.
func addBounceName(names map[string]derived) {
	names["bouncing"] = derived{
		kind: language.Condition, meaning: "off the ground again for 1 to 3 s, within 10 s of a touchdown",
		needs: func(t *Tracks) (missing, fallbacks []string) {
			if len(t.wheelSwitches()) > 0 {
				return nil, nil
			}
			return []string{"no main strut switch and no weight_on_wheels is recorded"}, nil
		},
		condition: (*Tracks).bouncing,
	}
}

// wheelSwitches lists the parameters that tell whether the main wheels are on the ground.
func (t *Tracks) wheelSwitches() []string {
	struts, _ := t.flight.signals.MainStruts(t.flight.Profile)
	if len(struts) == 0 && t.Has("weight_on_wheels") {
		return []string{"weight_on_wheels"}
	}
	return struts
}

func (t *Tracks) bouncing() readings.Condition {
	windows := t.windows()
	hop := readings.And(extended(t.flight.signals, t.wheelSwitches()).Clip(windows), t.Condition("on_ground"))
	landed := readings.Around(t.flight.touchdowns, 0, bouncesWithin, windows)
	begun := readings.And(readings.Lasting(hop, shortestBounce, windows), landed)
	return readings.Latched(begun, readings.Not(hop, windows), windows)
}
